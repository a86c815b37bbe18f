/** Being written. */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';

export function unpackGzip(_bytes: Uint8Array): { bytes: Uint8Array; finding: Finding } {
  throw new Fault('scan/other-format', 'this is gzip-compressed data; it is not read', '', 'Unpack it first.');
}
