import type { Bounds } from '../geometry/mesh.ts';

/** Nodes at [x0 + h i, y0 + h j, z0 + h k]; node (i, j, k) is number (k * ny + j) * nx + i. */
export interface Grid {
  readonly h: number;
  readonly x0: number;
  readonly y0: number;
  readonly z0: number;
  readonly nx: number;
  readonly ny: number;
  readonly nz: number;
}

/** Fine cells along a coarse one. */
export const COARSE = 4;

/**
 * A grid over a box, whole coarse cells each way. Its corner lies off the box by unremarkable fractions of a step, so
 * that columns of nodes meet vertices and edges of a scanned mesh by accident only.
 */
export function gridOver(box: Bounds<'ear'>, h: number): Grid {
  const shift = [0.4142135, 0.7320508, 0.2360679];
  const lo = [0, 1, 2].map((k) => (box.min[k] as number) - h * (1 + (shift[k] as number)));
  const n = [0, 1, 2].map((k) => {
    const cells = Math.ceil(((box.max[k] as number) + h - (lo[k] as number)) / (h * COARSE));
    return COARSE * Math.max(1, cells) + 1;
  });
  return {
    h,
    x0: lo[0] as number,
    y0: lo[1] as number,
    z0: lo[2] as number,
    nx: n[0] as number,
    ny: n[1] as number,
    nz: n[2] as number,
  };
}
