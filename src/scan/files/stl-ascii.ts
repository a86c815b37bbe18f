/**
 * Text STL. Words in any case, any white space, line ends of any system; several solids in one file. Strict about
 * structure: a facet that is not whole is a Fault with its line. Stored normals are skipped, whatever they say.
 */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted } from '../wording.ts';
import { Corners } from './corners.ts';
import { type NotFinite, refuseEmpty, type Soup, settleNotFinite } from './soup.ts';
import { DecimalMarks, TextTokens } from './tokens.ts';

const AXES = ['x', 'y', 'z'] as const;
const REPAIR = 'Export the scan again, or correct the line in a text editor.';

export function readAsciiStl(bytes: Uint8Array): Soup {
  return new AsciiReader(bytes).read();
}

class AsciiReader {
  readonly #in: TextTokens;
  readonly #bad: NotFinite[] = [];
  readonly #findings: Finding[] = [];
  readonly #corners: Corners;
  readonly #marks = new DecimalMarks();

  constructor(bytes: Uint8Array) {
    this.#in = new TextTokens(bytes);
    this.#corners = new Corners(bytes.length / 240);
  }

  read(): Soup {
    let solids = 0;
    while (this.#in.next()) {
      if (!this.#in.is('solid')) throw this.#unexpected(solids === 0 ? "'solid'" : "'solid' or the end of the file");
      solids++;
      this.#in.skipLine();
      this.#solid();
    }
    if (this.#corners.length === 0) refuseEmpty();
    this.#marks.settle(this.#findings, REPAIR);
    if (solids > 1)
      this.#findings.push({ code: 'scan/solids', level: 'note', text: `The file holds ${solids} solids; all are read.`, count: solids });
    const { triangles } = this.#corners;
    const corners = settleNotFinite(this.#corners.take(), this.#bad, this.#findings);
    return { format: 'stl-ascii', corners, triangles, single: false, findings: this.#findings };
  }

  #solid(): void {
    while (this.#in.next()) {
      if (this.#in.is('endsolid')) {
        this.#in.skipLine();
        return;
      }
      if (!this.#in.is('facet')) throw this.#unexpected("'facet' or 'endsolid'");
      this.#facet();
    }
    if (this.#corners.length === 0) return;
    this.#findings.push({
      code: 'scan/no-end',
      level: 'warning',
      text: `Line ${this.#in.line}: the file ends without 'endsolid'; triangles may be missing at its end.`,
    });
  }

  #facet(): void {
    // "normal x y z" is skipped: some writers leave nan there, and the order of the corners rules anyway.
    for (let skipped = 0; ; skipped++) {
      this.#need();
      if (this.#in.is('outer')) break;
      if (skipped > 3 || this.#in.is('vertex') || this.#in.is('facet')) throw this.#unexpected("'outer loop'");
    }
    this.#word('loop', "'outer loop'");
    this.#need();
    for (let v = 0; v < 3; v++) {
      if (!this.#in.is('vertex')) {
        throw this.#in.is('endloop') ? this.#fault(`the loop has ${v} vertices, needs 3`) : this.#unexpected("'vertex'");
      }
      this.#vertex(v);
    }
    if (this.#in.is('vertex')) throw this.#fault('fourth vertex in a loop, a triangle has 3');
    if (!this.#in.is('endloop')) throw this.#unexpected("'endloop'");
    this.#need();
    if (this.#in.is('facet')) throw this.#fault("'facet' found, 'endfacet' needed: a facet is opened before the last one was closed");
    if (!this.#in.is('endfacet')) throw this.#unexpected("'endfacet'");
  }

  /** Reads three numbers and the word after them, so that a count other than three is told with the vertex's own line. */
  #vertex(vertex: number): void {
    const line = this.#in.line;
    let n = 0;
    for (this.#need(); !this.#in.startsWord() || this.#in.oddNumber() !== ''; this.#need()) {
      if (n === 3) throw this.#fault('vertex has more than 3 numbers', line);
      this.#number(vertex, n++);
    }
    if (n < 3) throw this.#fault(`vertex has ${n} ${n === 1 ? 'number' : 'numbers'}, needs 3`, line);
  }

  #number(vertex: number, axis: number): void {
    const odd = this.#in.oddNumber();
    if (odd !== '') {
      this.#bad.push({ triangle: this.#corners.triangles, vertex, axis: AXES[axis] as 'x', what: odd, line: this.#in.line });
      this.#corners.push(0); // never used: the triangle is left out or the file refused
      return;
    }
    const x = this.#in.number();
    if (x === undefined) {
      if (this.#in.atEnd()) throw this.#fault('file ends inside a facet');
      const word = this.#in.text();
      throw this.#fault(`'${word}' is not a number${word.includes(',') ? ' (comma as decimal mark?)' : ''}`);
    }
    this.#marks.note(this.#in);
    if (!Number.isFinite(x)) {
      this.#bad.push({ triangle: this.#corners.triangles, vertex, axis: AXES[axis] as 'x', what: this.#in.text(), line: this.#in.line });
    }
    this.#corners.push(x);
  }

  /** The next word, which must be there. */
  #need(): void {
    if (!this.#in.next()) throw this.#fault('file ends inside a facet');
  }

  #word(word: string, needed: string): void {
    this.#need();
    if (!this.#in.is(word)) throw this.#unexpected(needed);
  }

  #unexpected(needed: string): Fault {
    if (this.#in.atEnd() && this.#corners.length > 0) return this.#fault('file ends inside a facet');
    return this.#fault(`'${this.#in.text()}' found, ${needed} needed`);
  }

  #fault(found: string, line = this.#in.line): Fault {
    const read = this.#corners.triangles;
    const ends = found.startsWith('file ends');
    return new Fault(
      ends ? 'scan/truncated' : 'scan/syntax',
      ends ? `${found}, after ${counted(read, 'whole triangle')}` : found,
      `line ${line}`,
      ends ? 'The file was cut off while it was saved or copied: export or copy it again.' : REPAIR,
    );
  }
}
