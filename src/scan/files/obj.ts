/**
 * OBJ: text with one statement a line. Positions and faces are read; texture coordinates, normals, groups and materials
 * are passed over, since they change no shape. Strict about what is read: a face or vertex that is not whole is a Fault
 * with its line. Colours may follow the position. Faces may come before their vertices; numbers below 0 count back.
 */
import { Fault } from '../../model/fault.ts';
import type { Finding } from '../../model/scan.ts';
import { counted } from '../wording.ts';
import { Faces, Points, refusePoints } from './faces.ts';
import type { Soup } from './soup.ts';
import { DecimalMarks, TextTokens } from './tokens.ts';

const REPAIR = 'Export the scan again, or correct the line in a text editor.';

type Kind = 'shapeless' | 'lines' | 'surfaces';

/** Statements that are not read, by what is lost with them. */
const PASSED_OVER: ReadonlyMap<string, Kind> = new Map(
  (
    [
      ['shapeless', 'vn vt vp g o s mg usemtl mtllib usemap maplib lod bevel c_interp d_interp shadow_obj trace_obj ctech stech'],
      ['shapeless', 'cstype deg bmat step parm trim hole scrv sp end con csh res'],
      ['lines', 'p l curv curv2'],
      ['surfaces', 'surf bsp bzp cdc cdp call'],
    ] as const
  ).flatMap(([kind, words]) => words.split(' ').map((word): [string, Kind] => [word, kind])),
);

/** How many statements of a kind were passed over, and the line of the first. */
interface Passed {
  count: number;
  readonly line: number;
  readonly word: string;
}

/**
 * Reads an OBJ file. Corners are in the file's own unit, as written, in file order.
 * @throws Fault that names the line of what cannot be read.
 */
export function readObj(bytes: Uint8Array): Soup {
  return new ObjReader(bytes).read();
}

class ObjReader {
  readonly #in: TextTokens;
  readonly #points: Points;
  readonly #faces: Faces;
  readonly #marks = new DecimalMarks();
  readonly #findings: Finding[] = [];
  readonly #passed = new Map<Kind | 'unknown', Passed>();
  /** Numbers of vertices that were not there yet, each greater than the one before: the first that stays missing is among them. */
  readonly #ahead: { vertex: number; line: number }[] = [];
  #noWeight = 0;

  constructor(bytes: Uint8Array) {
    this.#in = new TextTokens(bytes);
    this.#points = new Points(bytes.length / 100);
    this.#faces = new Faces('line', bytes.length / 60);
  }

  read(): Soup {
    while (this.#in.next()) this.#statement();
    const defined = this.#points.length / 3;
    for (const { vertex, line } of this.#ahead) if (vertex > defined) throw missing(String(vertex), defined, line);
    this.#tell();
    if (this.#faces.empty) refusePoints(defined);
    this.#marks.settle(this.#findings, REPAIR);
    return this.#faces.soup(this.#points, { format: 'obj', single: false }, this.#findings);
  }

  #statement(): void {
    const words = this.#in;
    if (words.is('v')) this.#vertex();
    else if (words.is('f') || words.is('fo')) this.#face();
    else if (words.starts('#')) words.skipLine();
    else {
      if (!words.is('vn') && !words.is('vt')) this.#passOver();
      words.skipJoined();
    }
  }

  /** The next word of the statement; a comment ends it. */
  #word(): boolean {
    if (!this.#in.nextOnLine()) return false;
    if (!this.#in.starts('#')) return true;
    this.#in.skipLine();
    return false;
  }

  /** "x y z", "x y z w", or with three or four numbers of colour. */
  #vertex(): void {
    const line = this.#in.line;
    let n = 0;
    let weight = 1;
    for (; this.#word(); n++) {
      const odd = this.#in.oddNumber();
      const x = odd === '' ? this.#in.number() : Number.NaN;
      if (x === undefined) throw this.#notNumber();
      if (n < 3) this.#coordinate(x, odd);
      else weight = x;
    }
    if (n < 3) throw syntax(`vertex has ${counted(n, 'number')}, needs 3`, line);
    if (n === 5 || n > 7) throw syntax(`vertex has ${n} numbers, not 3 (position), 4 (and weight), 6 or 7 (and colour)`, line);
    if (n === 4) this.#weigh(weight, line);
  }

  #coordinate(x: number, odd: string): void {
    this.#marks.note(this.#in);
    if (Number.isFinite(x)) this.#points.push(x);
    else this.#points.push(x, { line: this.#in.line, what: odd || this.#in.text() });
  }

  /** Weights only matter to curves, where they are 1 for plain points; some programs write 0 for "none". */
  #weigh(weight: number, line: number): void {
    if (weight === 0 && this.#noWeight === 0) this.#noWeight = line;
    if (weight !== 0 && weight !== 1) throw syntax(`vertex has the weight ${weight}, only 1 is read`, line);
  }

  #face(): void {
    this.#faces.begin(this.#in.line);
    while (this.#word()) this.#faces.corner(this.#reference());
    this.#faces.end();
  }

  /** The point that the word names, from 0. */
  #reference(): number {
    const { line } = this.#in;
    const defined = this.#points.length / 3;
    const v = this.#in.reference();
    if (v === undefined) throw syntax(`'${this.#in.text()}' is not a vertex index`, line);
    if (v === 0) throw syntax('vertex index 0 (indices start at 1)', line);
    if (v < 0) {
      if (-v > defined) throw missing(this.#in.text(), defined, line);
      return defined + v;
    }
    if (v > defined && v > (this.#ahead.at(-1)?.vertex ?? 0)) {
      if (v > 2 ** 32) throw missing(this.#in.text(), defined, line);
      this.#ahead.push({ vertex: v, line });
    }
    return v - 1;
  }

  /** A statement that is not read: known, or a plain word that cannot be a damaged vertex or face. */
  #passOver(): void {
    const word = this.#in.text().toLowerCase();
    const kind = PASSED_OVER.get(word) ?? 'unknown';
    if (kind === 'shapeless') return;
    if (kind === 'unknown' && !/^[a-eg-uw-z][a-z_]*$/.test(word))
      throw syntax(`'${this.#in.text()}' is not an OBJ statement`, this.#in.line);
    const passed = this.#passed.get(kind);
    if (passed) passed.count++;
    else this.#passed.set(kind, { count: 1, line: this.#in.line, word: this.#in.text() });
  }

  #tell(): void {
    const lines = this.#passed.get('lines');
    const surfaces = this.#passed.get('surfaces');
    const unknown = this.#passed.get('unknown');
    const tell = (code: string, level: Finding['level'], text: string, count: number): void =>
      void this.#findings.push({ code, level, text, count });
    if (lines)
      tell(
        'scan/lines',
        'note',
        `${counted(lines.count, 'point or line', 'points and lines')} left out (the first on line ${lines.line}).`,
        lines.count,
      );
    if (surfaces)
      tell(
        'scan/surfaces',
        'warning',
        `${counted(surfaces.count, 'statement')} of curved surfaces or other files not read ('${surfaces.word}', first on line ${surfaces.line}): what they show is missing.`,
        surfaces.count,
      );
    if (unknown)
      tell(
        'scan/unknown-statement',
        'warning',
        `${counted(unknown.count, 'statement')} of an unknown kind left out ('${unknown.word}', first on line ${unknown.line}).`,
        unknown.count,
      );
    if (this.#noWeight > 0) tell('scan/weight', 'note', `Weights of 0 read as none (the first on line ${this.#noWeight}).`, 1);
  }

  #notNumber(): Fault {
    const word = this.#in.text();
    return syntax(`'${word}' is not a number${word.includes(',') ? ' (comma as decimal mark?)' : ''}`, this.#in.line);
  }
}

function missing(vertex: string, defined: number, line: number): Fault {
  const there = defined === 0 ? 'none' : `only ${defined}`;
  return syntax(
    `vertex ${vertex}, but ${there} ${defined === 1 ? 'is' : 'are'} defined${vertex.startsWith('-') ? ' before it' : ''}`,
    line,
  );
}

const syntax = (found: string, line: number): Fault => new Fault('scan/syntax', found, `line ${line}`, REPAIR);
