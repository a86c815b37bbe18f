/** How much may come out of packed data, counted while it comes out. */
import { Fault } from '../../model/fault.ts';
import { grouped } from '../wording.ts';

/** Up to here, bytes, data may be packed as tightly as it likes; */
const FREE = 100_000_000;
/** beyond it no tighter than this: text of a mesh comes to some 5 to 30 times its packed size. */
const TIGHTEST = 100;

const size = (bytes: number): string => (bytes >= 1e9 ? `${grouped(bytes / 1e9)} GB` : `${grouped(bytes / 1e6)} MB`);

export class Budget {
  readonly #packed: number;
  readonly #most: number;
  #spent = 0;

  /** `packed`: bytes of the file. `most`: bytes that may come out of it in all. */
  constructor(packed: number, most: number) {
    this.#packed = packed;
    this.#most = most;
  }

  /** To be told of every piece. `what` is the data's name in the message. @throws Fault scan/too-large */
  take(bytes: number, what: string): void {
    this.#spent += bytes;
    if (this.#spent > this.#most) throw tooLarge(`${what} inflates to more than ${size(this.#most)}; the limit is ${size(this.#most)}`);
    if (this.#spent <= FREE || this.#spent <= TIGHTEST * this.#packed) return;
    throw tooLarge(
      `${what} inflates to more than ${size(FREE)} and ${TIGHTEST} times its size; the limit for data packed so tightly is ${size(FREE)}`,
    );
  }
}

const tooLarge = (found: string): Fault => new Fault('scan/too-large', found, '', 'Export a smaller scan, or one in a binary format.');
