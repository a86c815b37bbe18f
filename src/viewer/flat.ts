/** Distances between outlines in one plane, mm. */
import { type Flat, type Outline, outlineHolds } from '../geometry/section.ts';

export interface Span {
  readonly from: Flat;
  readonly to: Flat;
  /** Negative: how deep one reaches into the other, or out of it. */
  readonly distance: number;
}

/** The nearest point to (u, v) on any of the outlines. */
export function nearestOn(outlines: readonly Outline[], u: number, v: number): Span | undefined {
  let best = Infinity;
  let to: Flat | undefined;
  for (const { points: p, closed } of outlines) {
    const n = p.length / 2;
    for (let i = 0; i < (closed ? n : n - 1); i++) {
      const j = (i + 1) % n;
      const ax = p[2 * i] as number;
      const ay = p[2 * i + 1] as number;
      const ex = (p[2 * j] as number) - ax;
      const ey = (p[2 * j + 1] as number) - ay;
      const l2 = ex * ex + ey * ey;
      const s = l2 > 0 ? Math.max(0, Math.min(1, ((u - ax) * ex + (v - ay) * ey) / l2)) : 0;
      const dx = ax + s * ex - u;
      const dy = ay + s * ey - v;
      const d2 = dx * dx + dy * dy;
      if (d2 < best) {
        best = d2;
        to = [u + dx, v + dy];
      }
    }
  }
  return to && { from: [u, v], to, distance: Math.sqrt(best) };
}

/** Even-odd over all outlines together. */
export const holds = (outlines: readonly Outline[], u: number, v: number): boolean =>
  outlines.reduce((inside, o) => inside !== outlineHolds(o, u, v), false);

/**
 * From the outlines of a part to the wall round it: the least distance, or minus the farthest that a corner lies outside.
 * Exact for polygons: the least distance of two that do not cross starts at a corner of one of them.
 */
export function toWall(part: readonly Outline[], wall: readonly Outline[]): Span | undefined {
  let best: Span | undefined;
  for (const { points: p } of part) {
    for (let i = 0; i < p.length; i += 2) {
      const u = p[i] as number;
      const v = p[i + 1] as number;
      const near = nearestOn(wall, u, v);
      if (!near) continue;
      const signed = holds(wall, u, v) ? near : { ...near, distance: -near.distance };
      if (!best || signed.distance < best.distance) best = signed;
    }
  }
  if (best && best.distance < 0) return best;
  for (const { points: p } of wall) {
    for (let i = 0; i < p.length; i += 2) {
      const near = nearestOn(part, p[i] as number, p[i + 1] as number);
      if (near && (!best || near.distance < best.distance)) best = { from: near.to, to: near.from, distance: near.distance };
    }
  }
  return best;
}

/** Between two parts' outlines: the least distance, or minus the deepest corner of one inside the other. */
export function between(a: readonly Outline[], b: readonly Outline[]): Span | undefined {
  let best: Span | undefined;
  for (const [one, other, swap] of [
    [a, b, false],
    [b, a, true],
  ] as const) {
    for (const { points: p } of one) {
      for (let i = 0; i < p.length; i += 2) {
        const u = p[i] as number;
        const v = p[i + 1] as number;
        const near = nearestOn(other, u, v);
        if (!near) continue;
        const distance = holds(other, u, v) ? -near.distance : near.distance;
        if (!best || distance < best.distance) best = { from: swap ? near.to : near.from, to: swap ? near.from : near.to, distance };
      }
    }
  }
  return best;
}
