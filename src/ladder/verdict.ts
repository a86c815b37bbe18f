import { ENOUGH, type Evidence, type Verdict } from '../model/fit.ts';

/**
 * The verdict of design section 2 from two numbers: `found`, the verified spare of the best arrangement, and `ceiling`,
 * the proved upper limit (+Infinity where nothing is proved). All mm.
 */
export function verdictOf(found: number, ceiling: number, tolerance: number): Exclude<Verdict, 'not-judged'> {
  if (found >= tolerance) return 'fits';
  if (found >= -tolerance) return 'tight';
  if (ceiling < -tolerance) return 'does-not-fit';
  return 'unsettled';
}

/**
 * What may be said of an arrangement: its spare, but never a fit on evidence that is not sound. An arrangement whose
 * clearances hold while another check refutes it (a seat, a port spacing, an overlap) is a fault of the search; it counts
 * as lacking just enough not to be called a fit, and its faults are shown. Beyond ENOUGH nothing more is claimed.
 * `deviation`: how far the scan may lie from the cast that was measured, mm.
 */
export function reportable(evidence: Evidence, tolerance: number, deviation = 0): number {
  const spare = evidence.spare - deviation;
  return Math.min(ENOUGH, evidence.sound ? spare : Math.min(spare, -tolerance - 1e-6));
}
