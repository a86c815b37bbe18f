/**
 * Binary STL: 80 bytes of anything, a 32-bit count, then 50 bytes a triangle (normal, three corners, two bytes of
 * anything), little-endian. The stored normals and attribute bytes are not used: the order of the corners rules.
 */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted, grouped } from '../wording.ts';
import { findNotFinite, refuseEmpty, refuseTooMany, type Soup, settleNotFinite } from './soup.ts';

export const STL_HEADER = 84;
export const STL_TRIANGLE = 50;

const view = (bytes: Uint8Array): DataView => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** The count in the header, unsigned; undefined when the file ends before it. */
export const claimedCount = (bytes: Uint8Array): number | undefined =>
  bytes.length < STL_HEADER ? undefined : view(bytes).getUint32(80, true);

/** Does the length fit the header's count to the byte? Nothing but a binary STL does. */
export const lengthFits = (bytes: Uint8Array): boolean => {
  const count = claimedCount(bytes);
  return count !== undefined && bytes.length === STL_HEADER + STL_TRIANGLE * count;
};

export function readBinaryStl(bytes: Uint8Array): Soup {
  const findings: Finding[] = [];
  const count = settleCount(bytes, findings);
  refuseTooMany(count);
  const data = view(bytes);
  const corners = new Float64Array(9 * count);
  let out = 0;
  for (let t = 0; t < count; t++) {
    let at = STL_HEADER + STL_TRIANGLE * t + 12;
    for (let k = 0; k < 9; k++, at += 4) corners[out++] = data.getFloat32(at, true) + 0; // + 0 turns -0 into 0
  }
  const kept = settleNotFinite(corners, findNotFinite(corners), findings);
  return { format: 'stl-binary', corners: kept, triangles: count, single: true, findings };
}

/** How many triangles to read where header and length may disagree. */
function settleCount(bytes: Uint8Array, findings: Finding[]): number {
  const claimed = claimedCount(bytes);
  if (claimed === undefined) {
    throw new Fault(
      'scan/too-short',
      `${counted(bytes.length, 'byte')}: too short for a binary STL file (${STL_HEADER} at least)`,
      '',
      'Export the scan again, or copy the file again.',
    );
  }
  const whole = Math.floor((bytes.length - STL_HEADER) / STL_TRIANGLE);
  const need = STL_HEADER + STL_TRIANGLE * claimed;
  if (need > bytes.length) throw truncated(claimed, need, bytes.length, whole);
  const extra = bytes.length - need;
  if (extra > 0 && extra % STL_TRIANGLE === 0) {
    findings.push({
      code: 'scan/count',
      level: 'warning',
      text: `The header says ${counted(claimed, 'triangle')}, the file holds ${grouped(whole)}: all ${grouped(whole)} are used.`,
      count: whole,
    });
    return whole;
  }
  if (claimed === 0) refuseEmpty();
  if (extra > 0) {
    findings.push({
      code: 'scan/trailing-bytes',
      level: extra < STL_TRIANGLE ? 'note' : 'warning',
      text: `${counted(extra, 'byte')} after the last triangle ignored.`,
      count: extra,
    });
  }
  return claimed;
}

function truncated(claimed: number, need: number, has: number, whole: number): Fault {
  const gigabytes = need / 1e9;
  const size = gigabytes >= 1 ? `${grouped(gigabytes)} GB` : `${grouped(need)} bytes`;
  return new Fault(
    'scan/truncated',
    `the header says ${counted(claimed, 'triangle')} (${size}), the file has ${grouped(has)} bytes: ${counted(whole, 'whole triangle')}`,
    `byte ${grouped(has)}`,
    claimed > 20 * (whole + 1)
      ? 'Either this is no STL file, or it is damaged: export the scan again.'
      : 'The file was cut off while it was saved or copied: export or copy it again.',
  );
}
