/** The certificate of a check: the proof of the smallest style that is impossible, written out. */
import { certificateDocument } from '../certify/index.ts';
import type { CaseResult } from '../model/case.ts';
import type { Rung } from '../model/fit.ts';
import { type Belongs, writeCertificate } from '../prove/certificate.ts';
import { thinScan } from '../scan/index.ts';

export type CertificateOrWhy =
  | { readonly document: ReturnType<typeof certificateDocument> }
  /** Why there is none, in words. */
  | { readonly why: string };

/** The first style of the result whose proof can be written out, or why none can. */
export function certificateFor(result: CaseResult): CertificateOrWhy {
  const reasons: string[] = [];
  for (const rung of result.rungs.filter((r) => r.verdict === 'does-not-fit')) {
    const { body, kit, proved, ceiling, style } = rung;
    if (!body || !kit || !proved || proved.length === 0) continue;
    const { deviation } = thinScan(result.scan);
    const written = writeCertificate(body, result.rules, { kit, parts: proved, ceiling, deviation }, belongs(result, rung));
    if (written.kind === 'written') return { document: certificateDocument(written.certificate) };
    reasons.push(`${style}: ${written.why}`);
  }
  return { why: reasons.length > 0 ? reasons.join('; ') : 'no style that was judged is proved impossible' };
}

/** Of the order only what a kit follows from: hearing is nobody's business here. */
function belongs({ side, cuts, corrections, order }: CaseResult, { style }: Rung): Belongs {
  const own = cuts[style];
  const { side: _side, hearing: _hearing, dexterity: _dexterity, wax: _wax, ...kept } = order;
  return { side, ...(own ? { cuts: own } : {}), ...(Object.keys(corrections).length > 0 ? { corrections } : {}), order: kept };
}
