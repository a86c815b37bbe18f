/** Do two triangles of one surface pass through each other? Decided by exact signs alone; slow, for pairs that nothing cheaper tells apart. */
import { type Flat, side2, side3 } from './crossings-exact.ts';

/** Vertex numbers of one triangle. Corners at one place must have one number. */
export type Corners = readonly [number, number, number];

/**
 * cross: the insides of the triangles meet, each on both sides of the other.
 * lie: they lie in one plane, over a common area.
 * first, second: the named one's side `edge` (0 to 2) runs in the other's inside and its third corner lies off it, on
 *   side `above`. The surface passes there if the next triangle across that side lies on the other.
 * none: apart, or touching in no more than corners and sides.
 */
export type Meeting =
  | { readonly kind: 'none' | 'cross' }
  | { readonly kind: 'lie'; readonly facing: 1 | -1 }
  | { readonly kind: 'first' | 'second'; readonly edge: number; readonly above: 1 | -1 };

const NONE: Meeting = { kind: 'none' };

/** A triangle without area meets nothing: its neighbours do. */
export function meet(p: Flat, s: Corners, t: Corners): Meeting {
  const signsT = t.map((v) => (s.includes(v) ? 0 : side3(p, s[0], s[1], s[2], v)));
  if (oneSide(signsT)) return NONE;
  const signsS = s.map((v) => (t.includes(v) ? 0 : side3(p, t[0], t[1], t[2], v)));
  if (oneSide(signsS)) return NONE;
  if (signsT.every((x) => x === 0) || signsS.every((x) => x === 0)) return inPlane(p, s, t);
  const acrossS = signsS.includes(1) && signsS.includes(-1);
  const acrossT = signsT.includes(1) && signsT.includes(-1);
  if (acrossS && acrossT) return overlapAlong(p, s, signsS, t, signsT) ? { kind: 'cross' } : NONE;
  return edgeWithin(p, 'second', s, t, signsT) ?? edgeWithin(p, 'first', t, s, signsS) ?? NONE;
}

const oneSide = (signs: readonly number[]): boolean => signs.every((x) => x > 0) || signs.every((x) => x < 0);

/**
 * Both triangles cut the line in which their planes meet, in an interval each. Do the intervals overlap by more than a
 * point? Two sides of tetrahedra tell (P. Guigue and O. Devillers, "Fast and robust triangle-triangle overlap test using
 * orientation predicates", 2003).
 */
function overlapAlong(p: Flat, s: Corners, signsS: readonly number[], t: Corners, signsT: readonly number[]): boolean {
  const i = alone(signsS);
  const j = alone(signsT);
  let [p1, q1, r1] = [s[i], s[(i + 1) % 3], s[(i + 2) % 3]] as Corners;
  let [p2, q2, r2] = [t[j], t[(j + 1) % 3], t[(j + 2) % 3]] as Corners;
  if ((signsS[i] as number) < 0) [q2, r2] = [r2, q2];
  if ((signsT[j] as number) < 0) [q1, r1] = [r1, q1];
  const side = (a: number, b: number, c: number, d: number): number => (new Set([a, b, c, d]).size < 4 ? 0 : side3(p, a, b, c, d));
  return side(p1, q1, p2, q2) < 0 && side(p1, r1, r2, p2) < 0;
}

/** The corner strictly on one side while neither other is. */
function alone(signs: readonly number[]): number {
  const up = signs.filter((x) => x > 0).length;
  return up === 1 ? signs.indexOf(1) : signs.indexOf(-1);
}

/** An axis along which the triangle does not vanish, or -1. */
export function axisOf(p: Flat, t: Corners): number {
  return [0, 1, 2].findIndex((k) => side2(p, k, t[0], t[1], t[2]) !== 0);
}

function inPlane(p: Flat, s: Corners, t: Corners): Meeting {
  const axis = axisOf(p, s);
  if (axis < 0) return NONE;
  const turnS = side2(p, axis, s[0], s[1], s[2]);
  const turnT = side2(p, axis, t[0], t[1], t[2]);
  if (turnT === 0 || beside(p, axis, s, turnS, t) || beside(p, axis, t, turnT, s)) return NONE;
  return { kind: 'lie', facing: turnS === turnT ? 1 : -1 };
}

/** Some side of triangle s has every given point on it or beyond it. */
function beside(p: Flat, axis: number, s: Corners, turn: number, points: readonly number[]): boolean {
  return s.some((a, i) => {
    const b = s[(i + 1) % 3] as number;
    return points.every((v) => v === a || v === b || side2(p, axis, a, b, v) !== turn);
  });
}

/** Two corners of `t` in the plane of `face`, and the side between them running through the face's inside. */
function edgeWithin(p: Flat, kind: 'first' | 'second', face: Corners, t: Corners, signs: readonly number[]): Meeting | undefined {
  const off = signs.findIndex((x) => x !== 0);
  if (signs.filter((x) => x === 0).length !== 2) return undefined;
  const axis = axisOf(p, face);
  if (axis < 0) return undefined;
  const edge = (off + 1) % 3;
  const [a, b] = [t[edge] as number, t[(edge + 1) % 3] as number];
  const turn = side2(p, axis, face[0], face[1], face[2]);
  const sides = face.map((v) => (v === a || v === b ? 0 : side2(p, axis, a, b, v)));
  if (!(sides.includes(1) && sides.includes(-1)) || beside(p, axis, face, turn, [a, b])) return undefined;
  return { kind, edge, above: signs[off] as 1 | -1 };
}
