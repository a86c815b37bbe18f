/** The whole cast before it is scanned, as one signed distance in the ear frame: canal, concha and flange. */
import { dot, type Point, pt } from '../geometry/vec.ts';
import { fieldOf, join, meet } from './blend.ts';
import { Canal } from './canal.ts';
import { type Concha, type ConchaFrame, type ConchaPlan, conchaFrame, conchaPlan, conchaSolid, type Solid } from './concha.ts';
import type { EarParameters } from './parameters.ts';
import { sectionArea } from './radial.ts';

export interface CastShape {
  readonly canal: Canal;
  readonly frame: ConchaFrame;
  readonly plan: ConchaPlan;
  /** Signed distance in mm near the surface, negative inside. */
  distance(x: number, y: number, z: number): number;
  /** The concha's part alone, without the flange. */
  concha(x: number, y: number, z: number): number;
}

/** Reach of the fillet between canal and concha: the rounding of the aperture's edge. */
const APERTURE_FILLET = 2.6;
/** The flange's closed top, above any ragged cut. */
export const FLANGE_TOP = 6;

export function castShape(p: EarParameters, seed: number): CastShape {
  const canal = new Canal(p);
  const aperture = canal.sectionAt(0);
  const plan = conchaPlan(p, aperture);
  const { solid, cover } = conchaSolid(p, plan);
  let lo = 0.5 * p.cavumDepth;
  let hi = p.cavumDepth + 10;
  for (let turn = 0; turn < 22; turn++) {
    const lift = (lo + hi) / 2;
    const opened = open(canal, conchaFrame(p, aperture, lift), solid);
    const area = sectionArea(opened, pt(0, 0, 0), pt(1, 0, 0), pt(0, 1, 0), 72);
    if (area > p.areaAperture) lo = lift;
    else hi = lift;
  }
  const frame = conchaFrame(p, aperture, hi);
  const opened = open(canal, frame, solid);
  const tip = tipCut(canal, p);
  const flange = flangeSolid(frame, cover, p, seed);
  const body = (x: number, y: number, z: number): number => meet(opened(x, y, z), tip(x, y, z), 2.4);
  return {
    canal,
    frame,
    plan,
    distance: (x, y, z) => join(body(x, y, z), flange(x, y, z), 1.3),
    concha: (x, y, z) => inConcha(frame, solid, x, y, z),
  };
}

const inConcha = (f: ConchaFrame, solid: Solid, x: number, y: number, z: number): number => {
  const dx = x - f.origin[0];
  const dy = y - f.origin[1];
  const dz = z - f.origin[2];
  return solid(dx * f.x[0] + dy * f.x[1] + dz * f.x[2], dx * f.y[0] + dy * f.y[1] + dz * f.y[2], dx * f.w[0] + dy * f.w[1] + dz * f.w[2]);
};

/** Canal and concha, joined. The canal's own tube fades out within the concha. */
function open(canal: Canal, frame: ConchaFrame, solid: Solid) {
  return (x: number, y: number, z: number): number => {
    const concha = inConcha(frame, solid, x, y, z);
    if (z > 11) return concha;
    const tube = meet(canal.distance(x, y, z), z - 5.5, 5);
    return join(tube, concha, APERTURE_FILLET);
  };
}

/** The end face: nearly square, where the material met its stop. */
function tipCut(canal: Canal, p: EarParameters) {
  const o = 3 * canal.sampleAt(canal.endDepth);
  const lean = p.tipTilt;
  const n = [0, 1, 2].map((k) => (canal.tangent[o + k] as number) + lean * (canal.v[o + k] as number));
  const l = Math.sqrt(dot(n as unknown as Point<'ear'>, n as unknown as Point<'ear'>));
  const [nx, ny, nz] = n.map((c) => c / l) as [number, number, number];
  const [cx, cy, cz] = [canal.at[o] as number, canal.at[o + 1] as number, canal.at[o + 2] as number];
  return (x: number, y: number, z: number): number => {
    const h = nx * (x - cx) + ny * (y - cy) + nz * (z - cz);
    // Only near the tip: a bent canal may come back behind this plane.
    const dx = x - cx;
    const dy = y - cy;
    const dz = z - cz;
    return dx * dx + dy * dy + dz * dz < 196 ? h : Math.min(h, -4);
  };
}

/** Material pressed out over the rim, unevenly, lying on the ear round the concha. */
function flangeSolid(frame: ConchaFrame, cover: Concha['cover'], p: EarParameters, seed: number) {
  const uneven = fieldOf(seed ^ 0x51ab);
  return (x: number, y: number, z: number): number => {
    const dx = x - frame.origin[0];
    const dy = y - frame.origin[1];
    const dz = z - frame.origin[2];
    const cw = dx * frame.w[0] + dy * frame.w[1] + dz * frame.w[2];
    if (cw < -3) return -cw;
    const cx = dx * frame.x[0] + dy * frame.x[1] + dz * frame.x[2];
    const cy = dx * frame.y[0] + dy * frame.y[1] + dz * frame.y[2];
    const outline = cover(cx, cy);
    const spread = p.overflow * (0.8 + 1.1 * uneven(0.085 * cx + 3, 0.085 * cy, 0.5) + 0.16 * uneven(0.27 * cx, 0.27 * cy, 4.5));
    const lying = 0.3 + 0.7 * uneven(0.13 * cx, 0.13 * cy, 7.5) - 0.18 * outline;
    return meet(meet(outline - spread, lying - cw, 1.8), cw - FLANGE_TOP, 0.5);
  };
}
