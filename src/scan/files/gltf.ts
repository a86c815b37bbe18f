/** Being written. */
import { Fault } from '../../model/fault.ts';
import type { Soup } from './soup.ts';

export function readGlb(_bytes: Uint8Array): Soup {
  throw new Fault('scan/other-format', 'this is a glTF file; it is not read', '', 'Export the scan as STL.');
}

export function readGltf(_bytes: Uint8Array): Soup {
  throw new Fault('scan/other-format', 'this is a glTF file; it is not read', '', 'Export the scan as STL.');
}
