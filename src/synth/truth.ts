/** What is known of a synthetic ear because it was made so. */
import { rotate } from '../geometry/rotation.ts';
import { acos } from '../geometry/trig.ts';
import { addScaled, dot, normalize, type Point, pointAt, pt, type Quat, scale, sub, type Vec3 } from '../geometry/vec.ts';
import type { Side } from '../model/ear.ts';
import type { Canal } from './canal.ts';
import { fromConcha } from './concha.ts';
import type { EarParameters } from './parameters.ts';
import { rayOut, sectionArea } from './radial.ts';
import type { CastShape } from './shape.ts';

export interface TrueBend {
  readonly at: Point<'scan'>;
  readonly depth: number; // mm
  readonly angle: number; // radians
}

/** Everything in scan coordinates, mm; plain JSON. Definitions as in the model of an ear (src/model/ear.ts). */
export interface EarTruth {
  readonly format: 'cavum-synthetic-ear';
  readonly version: 1;
  readonly seed: number;
  readonly side: Side;
  /** Unit directions. Lateral: the canal's axis at the aperture, out of the ear. */
  readonly lateral: Point<'scan'>;
  readonly superior: Point<'scan'>;
  readonly anterior: Point<'scan'>;
  /** On the centreline, where the opening into the concha has added 5 % to the canal's own section. */
  readonly aperture: Point<'scan'>;
  /** Missing where the cast ends before the bend. */
  readonly firstBend?: TrueBend;
  readonly secondBend?: TrueBend;
  readonly end: { readonly at: Point<'scan'>; readonly depth: number };
  /** From 6 mm lateral of the aperture (negative depths) to the end, every 0.5 mm. */
  readonly centreline: readonly { readonly depth: number; readonly at: Point<'scan'>; readonly tangent: Point<'scan'> }[];
  /** Sections square to the centreline of the shape without noise, from the aperture to where the tip's rounding begins, mm2. */
  readonly sections: readonly { readonly depth: number; readonly area: number; readonly major: number; readonly minor: number }[];
  /** Through the cavum's centre; the normal points laterally. */
  readonly rim: { readonly point: Point<'scan'>; readonly normal: Point<'scan'> };
  /** On the surface, in the middle of the groove that the crus leaves. */
  readonly crus: Point<'scan'>;
  /** On the surface: the deepest place of the tragus's hollow, and the notch's spout at its lowest. */
  readonly tragus: Point<'scan'>;
  readonly intertragalNotch: Point<'scan'>;
  readonly parameters: EarParameters;
}

/** From the ear frame to the scan: mirrored for a left ear, turned, moved. */
export interface Placement {
  readonly side: Side;
  readonly quaternion: Quat;
  readonly move: Vec3;
}
export const directionInScan = (w: Placement, d: Vec3): Point<'scan'> => {
  const r = rotate(w.quaternion, w.side === 'left' ? [-d[0], d[1], d[2]] : d);
  return pt(r[0], r[1], r[2]);
};
export const pointInScan = (w: Placement, p: Vec3): Point<'scan'> => {
  const r = directionInScan(w, p);
  return pt(r[0] + w.move[0], r[1] + w.move[1], r[2] + w.move[2]);
};

/** Below the rim, where the notch's spout is looked for, mm. */
const NOTCH_HEIGHT = -1.5;
/** Where the tip's rounding has no influence any more: this far lateral of the end. */
export const TIP_ROUNDING = 3.6;

export function truthOf(shape: CastShape, p: EarParameters, seed: number, placed: Placement): EarTruth {
  const { canal } = shape;
  const { tragus, notch } = shape.plan;
  const at = (q: Vec3): Point<'scan'> => pointInScan(placed, q);
  const bends = bendsOf(canal, p);
  const seen = (b: { depth: number; at: Point<'ear'>; angle: number }): TrueBend | undefined =>
    b.depth <= canal.endDepth - 0.5 ? { at: at(b.at), depth: b.depth, angle: b.angle } : undefined;
  const first = seen(bends.first);
  const second = seen(bends.second);
  return {
    format: 'cavum-synthetic-ear',
    version: 1,
    seed,
    side: p.side,
    lateral: directionInScan(placed, [0, 0, 1]),
    superior: directionInScan(placed, [0, 1, 0]),
    anterior: directionInScan(placed, [1, 0, 0]),
    aperture: at([0, 0, 0]),
    ...(first ? { firstBend: first } : {}),
    ...(second ? { secondBend: second } : {}),
    end: { at: at(pointAt(canal.at, canal.sampleAt(canal.endDepth))), depth: canal.endDepth },
    centreline: centreline(canal, placed),
    sections: sections(shape),
    rim: { point: at(shape.frame.origin), normal: directionInScan(placed, shape.frame.w) },
    crus: at(crusPoint(shape)),
    tragus: at(surfaceToward(shape, [0, tragus[1]], [tragus[0], tragus[1]], tragus[2])),
    intertragalNotch: at(surfaceToward(shape, [0.2 * notch[0], 0.4 * notch[1]], notch, NOTCH_HEIGHT)),
    parameters: p,
  };
}

/** Bends from the curve itself: greatest curvature on either side of the stillest place between, and the turn up to it. */
function bendsOf(canal: Canal, p: EarParameters) {
  const size = (i: number): number => {
    const k = pointAt(canal.curvature, i);
    return Math.sqrt(dot(k, k));
  };
  const a = canal.sampleAt(p.firstBendDepth);
  const b = canal.sampleAt(p.secondBendDepth);
  let still = a;
  for (let i = a; i <= b; i++) if (size(i) < size(still)) still = i;
  const peak = (from: number, to: number): number => {
    let best = from;
    for (let i = from; i < to; i++) if (size(i) > size(best) + 1e-12) best = i;
    return best;
  };
  const zero = canal.sampleAt(0);
  const turn = (from: number, to: number): number => acos(dot(pointAt(canal.tangent, from), pointAt(canal.tangent, to)));
  const make = (from: number, to: number) => {
    const i = peak(from, to);
    return { depth: canal.depthOf(i), at: pointAt<'ear'>(canal.at, i), angle: turn(from, to) };
  };
  return { first: make(zero, still), second: make(still, canal.count - 1) };
}

function centreline(canal: Canal, placed: Placement): EarTruth['centreline'] {
  const out = [];
  for (let i = canal.sampleAt(-6); i < canal.count && canal.depthOf(i) <= canal.endDepth + 1e-9; i += 5) {
    out.push({
      depth: canal.depthOf(i),
      at: pointInScan(placed, pointAt(canal.at, i)),
      tangent: directionInScan(placed, pointAt(canal.tangent, i)),
    });
  }
  return out;
}

function sections({ canal, distance }: CastShape): EarTruth['sections'] {
  const out = [];
  for (let depth = 0; depth <= canal.endDepth - TIP_ROUNDING; depth += 1) {
    const i = canal.sampleAt(depth);
    const area = sectionArea(distance, pointAt<'ear'>(canal.at, i), pointAt<'ear'>(canal.u, i), pointAt<'ear'>(canal.v, i), 96);
    const { major, minor } = canal.sectionAt(depth);
    out.push({ depth, area, major: 2 * major, minor: 2 * minor });
  }
  return out;
}

/** Below the rim, where the material that fills the concha is looked for, mm. */
const FILLED = -0.5;
const ALONG = 20;

/**
 * Straight down (medially) from within the filled concha onto the crus's ridge: the groove's bottom. Anteriorly the ridge rises to the rim and there
 * is no material over it; so the middle of the stretch that is covered.
 */
function crusPoint({ frame, plan, distance }: CastShape): Point<'ear'> {
  const { crusFrom: a, crusTo: b } = plan;
  const over = Array.from({ length: ALONG + 1 }, (_, k) => {
    const t = k / ALONG;
    return fromConcha(frame, (1 - t) * a[0] + t * b[0], (1 - t) * a[1] + t * b[1], FILLED);
  });
  const covered = over.filter((p) => distance(p[0], p[1], p[2]) < 0);
  const from = (covered[covered.length >> 1] ?? over[ALONG]) as Point<'ear'>;
  const medially = scale(frame.w, -1);
  return addScaled(from, medially, rayOut(distance, from, medially));
}

/** From a point within the concha, at height w of concha coordinates, outward to the surface on the way to another. */
function surfaceToward(
  { frame, distance }: CastShape,
  from: readonly [number, number],
  to: readonly [number, number],
  w: number,
): Point<'ear'> {
  const start = fromConcha(frame, from[0], from[1], w);
  const d = normalize(sub(fromConcha(frame, to[0], to[1], w), start));
  return addScaled(start, d, rayOut(distance, start, d));
}
