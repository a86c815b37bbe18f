/** Writes out the proof that one seated part, alone, has its place nowhere: every cell, and the rows that close it. */
import type { Certificate, Entry, Row } from '../certify/format.ts';
import type { EarOverrides, Side } from '../model/ear.ts';
import type { Body, StyleCuts } from '../model/fit.ts';
import type { Part, Rules } from '../model/parts.ts';
import type { Closing } from './bound.ts';
import { HALF_TURN, halves, type SeatedSpace, WHOLE_TURN } from './space.ts';
import { spotOf } from './spots.ts';
import { WallOracle } from './wall.ts';

/** What rounding the numbers of a row may add to its cell's bound, mm: witnesses and weights are written to 1e-5. */
const ROUNDED = 1e-3;
const MOST_CELLS = 20_000;

const short = (x: number): number => Math.round(x * 1e5) / 1e5;

/** What the certificate says about where it belongs. */
export interface Belongs {
  readonly side: Side;
  readonly cuts?: StyleCuts;
  readonly corrections?: EarOverrides;
}

/**
 * The certificate of `ceiling`, as `boundSpare` proved it for this part alone; what it claims is 0.002 mm higher, so that its rows
 * need not be followed to the last. Undefined for a part that is not seated at the faceplate, and where that ceiling is not proved.
 */
export function writeCertificate(body: Body, rules: Rules, part: Part, ceiling: number, belongs: Belongs): Certificate | undefined {
  const spot = part.seat.at === 'faceplate' ? spotOf(body, rules, new WallOracle(body), part) : undefined;
  if (!spot) return undefined;
  const { bounder } = spot;
  const space = bounder.space as SeatedSpace;
  const target = Math.max(ceiling, -(rules.wall + rules.gap + part.margin)) + ROUNDED;
  const cells: Entry[] = [];
  const roots = space.roots();
  const stack = [...roots].reverse();
  for (let cell = stack.pop(); cell; cell = stack.pop()) {
    if (cells.length >= MOST_CELLS) return undefined;
    const rows = bounder.closing(cell, target);
    if (rows) {
      cells.push(rows.map(written));
      continue;
    }
    const k = space.widest(cell);
    cells.push(k);
    const [lower, upper] = halves(cell, k);
    stack.push(upper, lower);
  }
  const { points } = bounder;
  const { plane, slide, spin } = space;
  return {
    style: body.style,
    ...belongs,
    part: {
      id: part.id,
      name: part.name,
      margin: part.margin,
      primitives: part.primitives
        .filter((p) => p.kind === 'solid')
        .map(({ shape, size, position, quaternion }) => ({ shape, size, position, quaternion })),
    },
    rules: { wall: rules.wall, faceplate: rules.faceplate, gap: rules.gap },
    ceiling: target + ROUNDED,
    seat: { origin: plane.origin, u: plane.u, v: plane.v },
    slide,
    spin: { range: spin === WHOLE_TURN ? 'whole' : spin === HALF_TURN ? 'half' : 'none', parts: roots.length },
    points: Array.from({ length: points.length / 3 }, (_, i) => [
      points[3 * i] as number,
      points[3 * i + 1] as number,
      points[3 * i + 2] as number,
    ]),
    cells,
  };
}

function written({ point, weight, witness, plane }: Closing): Row {
  const w = short(weight) || 1e-5;
  return witness ? [point, w, short(witness[0]), short(witness[1]), short(witness[2])] : [point, w, plane as number];
}
