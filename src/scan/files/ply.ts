/** Being written. */
import { Fault } from '../../model/fault.ts';
import type { Soup } from './soup.ts';

export function readPly(_bytes: Uint8Array): Soup {
  throw new Fault('scan/other-format', 'this is a PLY file; it is not read', '', 'Export the scan as STL.');
}
