/**
 * The field at a part's sample points: the search's innermost loop.
 */
import { interpolate } from '../room/room.ts';
import type { Model } from './model.ts';
import type { Samples } from './samples.ts';

const scratch = new Float64Array(8192);

/** Least of value - asked over the samples by interpolation alone: the search's cheapest measure. */
export function sampledWall(m: Model, samples: Samples, frame: Float64Array, o: number): number {
  sampleValues(m, samples, frame, o, scratch);
  let least = Infinity;
  for (let k = 0; k < samples.count; k++) if ((scratch[k] as number) < least) least = scratch[k] as number;
  return least;
}

/** Interpolated value of each sample less what is asked there, into `out`. The part's frame: twelve numbers from frame[o]. */
export function sampleValues(m: Model, samples: Samples, frame: Float64Array, o: number, out: Float64Array): void {
  const { grid } = m.room.field;
  const values = m.room.values;
  const { at, asked, count } = samples;
  const { nx, ny, nz } = grid;
  const ih = 1 / grid.h;
  const r0 = (frame[o] as number) * ih;
  const r1 = (frame[o + 1] as number) * ih;
  const r2 = (frame[o + 2] as number) * ih;
  const r3 = (frame[o + 3] as number) * ih;
  const r4 = (frame[o + 4] as number) * ih;
  const r5 = (frame[o + 5] as number) * ih;
  const r6 = (frame[o + 6] as number) * ih;
  const r7 = (frame[o + 7] as number) * ih;
  const r8 = (frame[o + 8] as number) * ih;
  const cx = ((frame[o + 9] as number) - grid.x0) * ih;
  const cy = ((frame[o + 10] as number) - grid.y0) * ih;
  const cz = ((frame[o + 11] as number) - grid.z0) * ih;
  const layer = nx * ny;
  for (let k = 0; k < count; k++) {
    const px = at[3 * k] as number;
    const py = at[3 * k + 1] as number;
    const pz = at[3 * k + 2] as number;
    const a = r0 * px + r1 * py + r2 * pz + cx;
    const b = r3 * px + r4 * py + r5 * pz + cy;
    const c = r6 * px + r7 * py + r8 * pz + cz;
    let v: number;
    if (a >= 0 && b >= 0 && c >= 0 && a < nx - 1 && b < ny - 1 && c < nz - 1) {
      const i = a | 0;
      const j = b | 0;
      const l = c | 0;
      const u = a - i;
      const w = b - j;
      const n = l * layer + j * nx + i;
      const q = n + layer;
      const v0 = values[n] as number;
      const v1 = values[n + nx] as number;
      const v2 = values[q] as number;
      const v3 = values[q + nx] as number;
      const a0 = v0 + u * ((values[n + 1] as number) - v0);
      const a1 = v1 + u * ((values[n + nx + 1] as number) - v1);
      const a2 = v2 + u * ((values[q + 1] as number) - v2);
      const a3 = v3 + u * ((values[q + nx + 1] as number) - v3);
      const b0 = a0 + w * (a1 - a0);
      v = b0 + (c - l) * (a2 + w * (a3 - a2) - b0);
    } else v = interpolate(m.room.field, values, grid.x0 + grid.h * a, grid.y0 + grid.h * b, grid.z0 + grid.h * c);
    out[k] = v - (asked[k] as number);
  }
}
