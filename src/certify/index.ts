/** Certificates: proofs written out, and the checker that believes none of them unseen. */
import { surveyWithSide } from '../ear/index.ts';
import { Arena, loadKernel } from '../geometry/kernel.ts';
import { Fault } from '../model/fault.ts';
import type { Body } from '../model/fit.ts';
import type { Catalogue, Style } from '../model/parts.ts';
import type { Unit } from '../model/scan.ts';
import { adjustStyle } from '../parts/adjust.ts';
import { GENERIC } from '../parts/index.ts';
import { readScan, thinScan } from '../scan/index.ts';
import { solidCast, trimCast } from '../trim/index.ts';
import { type CheckedCertificate, certify } from './check.ts';
import type { Certificate } from './format.ts';
import { kitFlaw } from './kit.ts';

export { type CheckedCertificate, certify } from './check.ts';
export { type Certificate, partsInWords } from './format.ts';
export { certificateDocument, readCertificate } from './read.ts';

export interface CertifyRequest {
  /** The scan's file as it is. */
  readonly bytes: Uint8Array;
  readonly name: string;
  readonly unit?: Unit;
  /** Says where styles are cut; ours unless given. */
  readonly catalogue?: Catalogue;
  /** Where the geometry kernel lies (a browser needs it; Node finds it). */
  readonly kernelUrl?: string;
}

/**
 * Checks a certificate against a scan: reads, surveys and trims it anew, builds the kit anew, then `certify`.
 * @throws Fault when the scan cannot be read, surveyed or cut for the certificate's style.
 */
export async function certifyScan(certificate: Certificate, request: CertifyRequest): Promise<CheckedCertificate> {
  const catalogue = request.catalogue ?? GENERIC;
  const style = styleOf(certificate, catalogue);
  const flaw = kitFlaw(certificate, style, catalogue);
  if (flaw) return { holds: false, why: flaw };
  const kernel = await loadKernel(request.kernelUrl);
  const scan = readScan(request.bytes, request.name, request.unit ? { unit: request.unit } : {});
  const { mesh, deviation } = thinScan(scan);
  const { ear } = surveyWithSide({ ...scan, mesh }, certificate.side, certificate.corrections);
  const arena = new Arena();
  try {
    const body = bodyOf(certificate, request, () => trimCast(solidCast(kernel, ear, arena), ear, style));
    return certify(certificate, body, deviation);
  } finally {
    arena.free();
  }
}

/** @throws Fault certify/style where the catalogue has no such style. */
function styleOf({ style: name, cuts }: Certificate, catalogue: Catalogue): Style {
  const style = catalogue.styles.find((s) => s.name === name);
  if (style) return adjustStyle(style, cuts ?? {});
  throw new Fault(
    'certify/style',
    `the catalogue has no style ${name}`,
    catalogue.name,
    'Give the catalogue that the certificate was made with.',
  );
}

function bodyOf(certificate: Certificate, request: CertifyRequest, trim: () => ReturnType<typeof trimCast>): Body {
  const trimmed = trim();
  if (trimmed.kind !== 'short') return trimmed.body;
  throw new Fault(
    'certify/body',
    `the impression cannot be cut for ${certificate.style}: ${trimmed.reason.text}`,
    request.name,
    'Give the scan that the certificate was made of.',
  );
}
