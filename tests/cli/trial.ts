import type { Io } from '../../src/cli/io.ts';
import { Fault } from '../../src/model/fault.ts';

/** A border that keeps what was said. */
export function trial(files: Record<string, Uint8Array> = {}) {
  const said = { out: '', talk: '', written: {} as Record<string, string | Uint8Array> };
  const io: Io = {
    out: (t) => {
      said.out += t;
    },
    talk: (t) => {
      said.talk += t;
    },
    read: (path) => {
      const bytes = files[path];
      if (!bytes) throw new Fault('file/unreadable', 'no such file', path, 'Check the path.');
      return bytes;
    },
    write: (path, data) => {
      said.written[path] = data;
    },
    live: false,
  };
  return { io, said };
}
