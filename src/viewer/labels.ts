/** Where labels go: two columns at the picture's sides, in the order of what they name, never one over another. */

export interface Anchor {
  readonly x: number; // px
  readonly y: number;
  readonly width: number; // of the label
  readonly height: number;
  /** Where the thing belongs that is on its way, px: its label keeps to that side. */
  readonly home?: number;
}

export interface Placed {
  readonly side: 'left' | 'right';
  /** The label's upper left corner. */
  readonly x: number;
  readonly y: number;
}

const GAP = 6;

/**
 * Places one label for each anchor. The half that an anchor lies in takes its label, unless one column would hold more
 * than its fair share; within a column labels are spread downwards and then pushed back up from the bottom edge.
 */
export function placeLabels(anchors: readonly Anchor[], wide: number, high: number, margin = 14): Placed[] {
  const xOf = (i: number): number => at(anchors, i).home ?? at(anchors, i).x;
  const order = anchors.map((_, i) => i).sort((a, b) => xOf(a) - xOf(b));
  const middle = wide / 2;
  const most = Math.ceil(anchors.length / 2) + 1;
  const left = order.filter((i) => xOf(i) < middle);
  const right = order.filter((i) => xOf(i) >= middle);
  while (left.length > most) right.unshift(left.pop() as number);
  while (right.length > most) left.push(right.shift() as number);
  const placed: Placed[] = new Array(anchors.length);
  for (const [side, members] of [
    ['left', left],
    ['right', right],
  ] as const) {
    const ys = spread(
      members.map((i) => at(anchors, i)),
      margin,
      high - margin,
    );
    for (const [k, i] of members.entries()) {
      const x = side === 'left' ? margin : wide - margin - at(anchors, i).width;
      placed[i] = { side, x, y: ys[k] as number };
    }
  }
  return placed;
}

const at = (anchors: readonly Anchor[], i: number): Anchor => anchors[i] as Anchor;

/** The tops of labels centred on their anchors as nearly as can be without overlap, between two edges. */
function spread(members: readonly Anchor[], top: number, bottom: number): number[] {
  const order = members.map((_, i) => i).sort((a, b) => at(members, a).y - at(members, b).y);
  const ys: number[] = new Array(members.length);
  let next = top;
  for (const i of order) {
    const m = at(members, i);
    ys[i] = Math.max(next, m.y - m.height / 2);
    next = (ys[i] as number) + m.height + GAP;
  }
  let limit = bottom;
  for (const i of order.toReversed()) {
    const m = at(members, i);
    ys[i] = Math.min(ys[i] as number, limit - m.height);
    limit = (ys[i] as number) - GAP;
  }
  return ys;
}
