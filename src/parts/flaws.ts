/** What is wrong with a part that no single value tells: its shape, its symmetry, its seat, the cell that it must hold. */
import type { Flaw } from '../json/index.ts';
import type { Primitive } from '../model/parts.ts';
import { IEC_CELLS } from './cells.ts';
import { extentOf, primitiveOf } from './primitive.ts';
import type { PartFile, PrimitiveFile } from './schema.ts';

/** For sums of lengths as people write them, mm. */
const SAME = 1e-9;
/** A part at the faceplate may keep this far behind it (a tube, a frame), mm; farther is a slip of a coordinate. */
const BEHIND = 3;
/** A spout's point may stand this far off the part's box, mm (a tube that is not drawn). */
const OFF = 2;

export const flawAt = (at: string, text: string): Flaw => ({ code: 'json/values', at, text });

/** `at` is the part's place in its file. */
export function partFlaws(part: PartFile, at: string): Flaw[] {
  const primitives = part.primitives.map(primitiveOf);
  const flaws = part.primitives.flatMap((p, k) => shapeFlaws(p, `${at}/primitives/${k}`));
  if (!primitives.some((p) => p.kind === 'solid')) flaws.push(flawAt(`${at}/primitives`, 'none is solid, one at least is needed'));
  primitives.forEach((p, k) => {
    if (!primitives.some((q) => isTwin(p, q))) {
      flaws.push(
        flawAt(
          `${at}/primitives/${k}/position`,
          `stands at x = ${p.position[0]} with no twin at x = ${-p.position[0]}; a part must be symmetric about x = 0, so that it serves both ears`,
        ),
      );
    }
  });
  return [...flaws, ...seatFlaws(part, primitives, at), ...cellFlaws(part, at)];
}

function shapeFlaws({ shape, size }: PrimitiveFile, at: string): Flaw[] {
  if (shape === 'box') return [];
  if (size[0] !== size[1])
    return [flawAt(`${at}/size`, `a ${shape} has [diameter, diameter, length]: ${size[0]} and ${size[1]} must be equal`)];
  if (shape === 'capsule' && size[2] < size[0]) {
    return [flawAt(`${at}/size`, `a capsule's length counts both round ends: ${size[2]} must be at least its diameter, ${size[0]}`)];
  }
  return [];
}

/** Whether q is p's mirror image about x = 0. `along` and `tilt` keep a primitive's own shape symmetric; its place is left. */
const isTwin = (p: Primitive, q: Primitive): boolean =>
  p.shape === q.shape &&
  p.kind === q.kind &&
  p.size.every((s, k) => s === q.size[k]) &&
  p.quaternion.every((s, k) => s === q.quaternion[k]) &&
  Math.abs(p.position[0] + q.position[0]) <= SAME &&
  Math.abs(p.position[1] - q.position[1]) <= SAME &&
  Math.abs(p.position[2] - q.position[2]) <= SAME;

const SEAT_OF: Readonly<Partial<Record<PartFile['kind'], PartFile['seat']['at']>>> = { receiver: 'tip', microphone: 'faceplate' };

function seatFlaws({ kind, seat }: PartFile, primitives: readonly Primitive[], at: string): Flaw[] {
  const asked = SEAT_OF[kind];
  if (asked && seat.at !== asked) return [flawAt(`${at}/seat/at`, `found ${seat.at}; a ${kind} sits at the ${asked}`)];
  if (seat.at === 'tip' && kind !== 'receiver') return [flawAt(`${at}/seat/at`, 'only a receiver sits at the tip')];
  if (seat.at === 'free') return [];
  const solids = primitives.filter((p) => p.kind === 'solid').map(extentOf);
  const [box] = [
    [0, 1, 2].map((k) => [Math.min(...solids.map((r) => r[k]?.[0] ?? 0)), Math.max(...solids.map((r) => r[k]?.[1] ?? 0))] as const),
  ];
  const top = box[2]?.[1] ?? 0;
  if (seat.at === 'faceplate') {
    if (top > SAME)
      return [
        flawAt(`${at}/seat`, `its matter reaches z = ${top}; a part at the faceplate lies at z ≤ 0, behind the faceplate's inner face`),
      ];
    return top < -BEHIND
      ? [flawAt(`${at}/seat`, `its matter ends at z = ${top}, more than ${BEHIND} mm behind the faceplate where it sits`)]
      : [];
  }
  const flaws: Flaw[] = [];
  if (seat.spout[0] !== 0) flaws.push(flawAt(`${at}/seat/spout/0`, `found ${seat.spout[0]}, 0 is needed: a part is symmetric about x = 0`));
  const off = seat.spout.findIndex((s, k) => s < (box[k]?.[0] ?? 0) - OFF || s > (box[k]?.[1] ?? 0) + OFF);
  if (off >= 0) {
    const [least, most] = box[off] ?? [0, 0];
    flaws.push(
      flawAt(
        `${at}/seat/spout/${off}`,
        `found ${seat.spout[off]}, more than ${OFF} mm off the part, which reaches from ${least} to ${most} there`,
      ),
    );
  }
  return flaws;
}

/** A drawer that is smaller than its cell would make a false fit. */
function cellFlaws({ kind, holds, primitives }: PartFile, at: string): Flaw[] {
  if (!holds)
    return kind === 'cell' ? [flawAt(`${at}/holds`, 'missing; a cell says which cell its drawer holds, with diameter and height')] : [];
  if (kind !== 'cell') return [flawAt(`${at}/holds`, 'only a cell has this key')];
  const flaws: Flaw[] = [];
  const iec = Object.hasOwn(IEC_CELLS, holds.cell) ? IEC_CELLS[holds.cell] : undefined;
  for (const measure of ['diameter', 'height'] as const) {
    if (iec && holds[measure] < iec[measure]) {
      flaws.push(
        flawAt(`${at}/holds/${measure}`, `found ${holds[measure]}; ${holds.cell} may have ${iec[measure]} mm (IEC 60086-2 maximum)`),
      );
    }
  }
  const drawer = primitives.some(
    (p) => p.kind !== 'service' && (p.shape === 'box' ? boxHolds : roundHolds)(p.size, holds.diameter, holds.height),
  );
  if (!drawer) {
    flaws.push(
      flawAt(`${at}/primitives`, `no primitive is large enough for the cell: ${holds.diameter} mm across and ${holds.height} mm high`),
    );
  }
  return flaws;
}

const roundHolds = (size: readonly number[], diameter: number, height: number): boolean =>
  (size[0] as number) >= diameter && (size[2] as number) >= height;
const boxHolds = (size: readonly number[], diameter: number, height: number): boolean => {
  const [low, middle, high] = [...size].sort((a, b) => a - b) as [number, number, number];
  // Either way round: flat within the two longer sides, whichever side its height takes.
  return (low >= height && middle >= diameter) || (low >= diameter && (middle >= height || high >= height));
};
