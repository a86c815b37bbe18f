/** Being written. */
import { Fault } from '../../model/fault.ts';
import type { Soup } from './soup.ts';

export function read3mf(_bytes: Uint8Array): Soup {
  throw new Fault('scan/other-format', 'this is a 3MF file; it is not read', '', 'Export the scan as STL.');
}
