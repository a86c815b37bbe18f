/** The certificate of a check: the proof of the smallest style that one seated part alone makes impossible, written out. */
import { type Certificate, certificateDocument } from '../certify/index.ts';
import type { CaseResult } from '../model/case.ts';
import type { Rung } from '../model/fit.ts';
import type { Part } from '../model/parts.ts';
import { writeCertificate } from '../prove/certificate.ts';

/** The part whose proof can be written out: other proofs, of several parts or of a free one, cannot yet. */
function seatedAlone({ verdict, proved, kit }: Rung): Part | undefined {
  if (verdict !== 'does-not-fit' || proved?.length !== 1) return undefined;
  const part = kit?.parts.find((p) => p.id === proved[0]);
  return part?.seat.at === 'faceplate' ? part : undefined;
}

/** Undefined where no style of the result has such a proof. */
export function certificateOf(result: CaseResult): ReturnType<typeof certificateDocument> | undefined {
  for (const rung of result.rungs) {
    const part = seatedAlone(rung);
    if (!part || !rung.body) continue;
    const certificate = writeCertificate(rung.body, result.rules, part, rung.ceiling, belongs(result, rung));
    if (certificate) return certificateDocument(certificate);
  }
  return undefined;
}

function belongs({ side, cuts, corrections }: CaseResult, { style }: Rung): Pick<Certificate, 'side' | 'cuts' | 'corrections'> {
  const own = cuts[style];
  return { side, ...(own ? { cuts: own } : {}), ...(Object.keys(corrections).length > 0 ? { corrections } : {}) };
}
