/**
 * The smallest step of one body with six degrees of freedom that gives its clearances what is wished and takes it along
 * a drive: a small quadratic programme, solved by going round its rows (Hildreth 1957), each softened so that what
 * cannot be had is shared out instead of growing without end.
 */
import type { Rows } from '../arrange/rows.ts';

/** Six numbers: three of shift, three of turn, all in mm (turns at the unit's radius). */
export type Twist = Float64Array;

/** How soft a clearance is, and how soft the drive: what the walls want counts for more. */
const SOFT_WALL = 1e-3;
const SOFT_DRIVE = 0.05;
const ROUNDS = 30;
/** Largest component of one step, mm. */
const LONGEST = 0.6;

let lambda = new Float64Array(256);
const driven = new Float64Array(6);

/**
 * Writes to `out` the smallest twist with value + jacobian . twist >= wish for every row and drive . twist >= size.
 * `supple`: how readily it turns, 0 not at all, 1 as readily as it shifts. The rows' slopes are changed.
 */
export function smallestStep(rows: Rows, wish: number, drive: Twist, size: number, supple: number, out: Twist): void {
  const n = rows.count;
  if (supple < 1)
    for (let r = 0; r < n; r++) for (let k = 3; k < 6; k++) rows.jacobian[12 * r + k] = supple * (rows.jacobian[12 * r + k] as number);
  if (lambda.length < n + 1) lambda = new Float64Array(2 * n + 1);
  lambda.fill(0, 0, n + 1);
  for (let k = 0; k < 6; k++) driven[k] = (k < 3 ? 1 : supple) * (drive[k] as number);
  out.fill(0);
  for (let round = 0; round < ROUNDS; round++) {
    let change = turnRow(driven, 0, size, SOFT_DRIVE, n, out);
    for (let r = 0; r < n; r++) {
      const lack = wish - (rows.value[r] as number);
      if (lack < -2 * LONGEST) continue;
      change = Math.max(change, turnRow(rows.jacobian, 12 * r, lack, SOFT_WALL, r, out));
    }
    if (change < 1e-4) break;
  }
  for (let k = 3; k < 6; k++) out[k] = supple * (out[k] as number);
  let most = 0;
  for (let k = 0; k < 6; k++) most = Math.max(most, Math.abs(out[k] as number));
  if (most > LONGEST) for (let k = 0; k < 6; k++) out[k] = ((out[k] as number) * LONGEST) / most;
}

/** Brings one row to its bound by changing its multiplier; how far that moved the step. */
function turnRow(j: Float64Array, o: number, bound: number, soft: number, r: number, out: Twist): number {
  let has = 0;
  let square = 0;
  for (let k = 0; k < 6; k++) {
    const a = j[o + k] as number;
    has += a * (out[k] as number);
    square += a * a;
  }
  const old = lambda[r] as number;
  const next = Math.max(0, old + (bound - has - soft * old) / (square + soft));
  const d = next - old;
  if (d === 0) return 0;
  lambda[r] = next;
  for (let k = 0; k < 6; k++) out[k] = (out[k] as number) + d * (j[o + k] as number);
  return Math.abs(d);
}
