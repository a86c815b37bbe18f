/**
 * The referee: a second, slow and simple checker of fits, written without a look at the search, the verification or the proofs. From
 * the scan's triangles, the verdict document and the catalogue as a file it upholds or refutes every style said to fit or to be tight:
 * the parts ordered, their seats, every clearance, the spare that is claimed, and the way in.
 *
 * Where it measures it brackets: `most` is the distance of two points that are there. A claim is refuted only by `most`, so a refuted
 * fit is wrong beyond doubt, and an upheld one is right to within `error`, which is stated with it.
 */
import { createHash } from 'node:crypto';
import type { CatalogueFile } from '../../src/parts/schema.ts';
import { type PartDocument, type StyleDocument, unsoundNumber, type VerdictDocument } from './referee-document.ts';
import { type Apart, expectedKit, keptApart, partFlaws } from './referee-kit.ts';
import { followMoves, standOf } from './referee-motion.ts';
import { type Piece, pieceAtTip } from './referee-piece.ts';
import { clip, distanceTo, lids, type Surface, stlTriangles, surfaceOf, type Triangle, windingAt } from './referee-scan.ts';
import { cutFlaws, seatFlaws } from './referee-seats.ts';
import { axesOf, type Bracket, bottomOver, type Cut, gapOf, type Solid, type Stand, topOver } from './referee-solids.ts';
import { boreIn, VENT, ventFlaws, ventOrdered } from './referee-vent.ts';

/** mm. Claims are rounded down to 1e-4, places to 1e-7; the kernel that cuts the body keeps 32-bit coordinates (4e-6 at 64 mm). */
const SLACK = 2e-5;
/** A spare of this much is claimed as "at least" (the document says so in words); below it, it is what was measured. */
const AT_LEAST = 0.5;

export interface Judged {
  readonly style: string;
  readonly verdict: string;
  /** Everything that is wrong; empty: upheld. */
  readonly refuted: readonly string[];
  /** What the document does not claim to the full, though the referee finds it to hold. */
  readonly doubts: readonly string[];
  /** The referee's own spare, mm, and how far below it the true one may lie. */
  readonly spare: number;
  readonly error: number;
  /** By how much the claim falls short of what is there, mm: no lie, but worth a look. */
  readonly understated: number;
  /** Least clearance on the way in, mm, and the poses that were looked at. */
  readonly wayIn: number;
  readonly poses: number;
}

/** A scan as the referee takes it: the bytes of a binary STL file, or triangles in mm. */
export type RefereeScan = Uint8Array | readonly Triangle[];

/**
 * Judges every style of a document that is said to fit or to be tight.
 * @throws Error where the document is not of these bytes at all, or not in mm.
 */
export function referee(scan: RefereeScan, document: VerdictDocument, catalogue: CatalogueFile): Judged[] {
  if (document.format !== 'cavum-verdict') throw new Error(`not a verdict document: ${document.format}`);
  const triangles = scan instanceof Uint8Array ? stlTriangles(scan) : scan;
  if (scan instanceof Uint8Array) {
    const sha256 = createHash('sha256').update(scan).digest('hex');
    if (sha256 !== document.scan.sha256) throw new Error(`the document is of another file: ${document.scan.sha256}, this is ${sha256}`);
    if (document.scan.unit !== 'mm') throw new Error(`the referee reads mm, the document has ${document.scan.unit}`);
  }
  const closed = [...triangles, ...lids(triangles)];
  return document.styles
    .filter((s) => s.verdict === 'fits' || s.verdict === 'tight')
    .map((style) => judge(triangles, closed, style, document, catalogue));
}

function judge(
  triangles: readonly Triangle[],
  closed: readonly Triangle[],
  style: StyleDocument,
  document: VerdictDocument,
  catalogue: CatalogueFile,
): Judged {
  const head = {
    style: style.style,
    verdict: style.verdict,
    doubts: [],
    spare: -Infinity,
    error: 0,
    understated: 0,
    wayIn: -Infinity,
    poses: 0,
  };
  const row = catalogue.styles?.find((s) => s.name === style.style);
  const kit = expectedKit(catalogue, style.style, document);
  const unsound = unsoundNumber(style) ?? (typeof kit === 'string' ? kit : undefined);
  if (unsound !== undefined || !row || typeof kit === 'string') return { ...head, refuted: [unsound ?? 'no such style'] };
  const named = style.parts
    .map((p) => p.id)
    .sort()
    .join();
  const wanted = [...kit.map((e) => e.id), ...(ventOrdered(document) ? [VENT] : [])].sort().join();
  if (named !== wanted) return { ...head, refuted: [`holds ${named}; the order needs ${wanted}`] };

  const solids = new Map(
    style.parts.map((p) => [p.id, p.primitives.map((q): Solid => ({ ...q, part: p.id, at: q.position, axes: axesOf(q.quaternion) }))]),
  );
  const stands = new Map<string, Stand>();
  for (const move of style.assembly?.moves ?? []) {
    for (const { id, poses } of move.parts) {
      const last = poses.at(-1);
      if (last) stands.set(id, standOf(last));
    }
  }
  const cutting = cutFlaws(style, document, row);
  if (!style.cuts.some((c) => c.name === 'outer') || !style.cuts.some((c) => c.name === 'tip')) return { ...head, refuted: cutting };
  const surface = surfaceOf(triangles.flatMap((t) => clip(t, style.cuts)));
  const parts = kit.flatMap((expected) => {
    const part = style.parts.find((p) => p.id === expected.id) as PartDocument;
    return partFlaws(part, solids.get(part.id) as Solid[], stands.get(part.id), expected);
  });
  const piece = pieceAtTip(closed, style.cuts, style.cuts.find((c) => c.name === 'tip') as Cut);
  const lengths = measure({ surface, closed, piece, style, rules: document.rules, solids, apart: keptApart(catalogue, kit) });
  const matter = new Map([...solids].map(([id, list]) => [id, list.filter((s) => s.kind === 'solid')]));
  const outer = style.cuts.find((c) => c.name === 'outer') as Cut;
  const others = style.cuts.filter((c) => c.name !== 'outer');
  const refuted = [
    ...sayingFlaws(style, document.rules.tolerance),
    ...cutting,
    ...parts,
    ...seatFlaws(closed, style, document, catalogue, kit, stands),
    ...ventFlaws(closed, piece, style, document, solids.get(VENT) ?? []),
    ...lengths.flaws,
  ];
  // Nobody needs the way into what is refuted.
  const scene = { closed, surface, style, rules: document.rules, outer, others, solids: matter };
  const motion = refuted.length > 0 ? { flaws: [], least: -Infinity, poses: 0 } : followMoves(scene);
  return {
    ...head,
    refuted: [...refuted, ...motion.flaws],
    doubts: doubtsOf(style, document.rules),
    spare: lengths.spare.most,
    error: lengths.error,
    understated: (style.found as number) >= AT_LEAST ? 0 : Math.max(0, lengths.spare.least - (style.found as number)),
    wayIn: motion.least,
    poses: motion.poses,
  };
}

/** What a document says of a style against itself. */
function sayingFlaws({ verdict, found, ceiling, sound, assembly }: StyleDocument, tolerance: number): string[] {
  const flaws: string[] = [];
  const spare = found as number;
  if (verdict === 'fits' && spare < tolerance) flaws.push(`fits with ${spare} mm, below the tolerance of ${tolerance}`);
  if (verdict === 'tight' && (spare < -tolerance || spare >= tolerance)) flaws.push(`tight with ${spare} mm`);
  if (ceiling !== null && ceiling < spare) flaws.push(`found ${spare} mm above its own ceiling, ${ceiling}`);
  if (sound !== true) flaws.push('is not said to be sound');
  if (!assembly?.moves) flaws.push('has no way in');
  return flaws;
}

/** A way in is to be free all along; a document that certifies less than nothing for a fit does not say so of itself. */
function doubtsOf({ found, assembly }: StyleDocument, rules: VerdictDocument['rules']): string[] {
  const left = Math.min(rules.gap, rules.partGap) + (found as number);
  const least = assembly?.least ?? 0;
  return least < Math.min(0, left) ? [`the way in is certified to ${least} mm only`] : [];
}

interface Lengths {
  readonly flaws: readonly string[];
  readonly spare: Bracket;
  readonly error: number;
}

/** What is asked of the lengths and what they are, as it comes in. */
class Ledger {
  readonly flaws: string[] = [];
  spare: Bracket = { least: Infinity, most: Infinity };
  error = 0;
  readonly found: number;

  constructor(found: number) {
    this.found = found;
  }

  ask(what: string, has: Bracket, asked: number): void {
    this.spare = { least: Math.min(this.spare.least, has.least - asked), most: Math.min(this.spare.most, has.most - asked) };
    this.error = Math.max(this.error, has.most - has.least);
    if (has.most - asked < this.found - SLACK)
      this.flaws.push(`${what}: has ${has.most.toFixed(4)} mm, asked ${asked.toFixed(2)}, claimed ${this.found} beyond that`);
  }

  claim(what: string, said: number | null | undefined, has: number): void {
    if (typeof said === 'number' && said > has + SLACK) this.flaws.push(`${what}: said to be ${said} mm, is ${has.toFixed(4)}`);
  }
}

const exact = (x: number): Bracket => ({ least: x, most: x });

interface Measuring {
  readonly surface: Surface;
  readonly closed: readonly Triangle[];
  readonly piece: Piece;
  readonly style: StyleDocument;
  readonly rules: VerdictDocument['rules'];
  readonly solids: ReadonlyMap<string, readonly Solid[]>;
  readonly apart: Apart;
}

/** Every clearance that is asked, against the claim; and the clearances that the document gives for each part. */
function measure({ surface, closed, piece, style, rules, solids, apart: kept }: Measuring): Lengths {
  const ledger = new Ledger(style.found as number);
  style.parts.forEach((part, k) => {
    const own = solids.get(part.id) as readonly Solid[];
    for (const solid of part.id === VENT ? [] : own) {
      const name = `${part.id}'s ${solid.shape}`;
      if (Math.round(windingAt(closed, solid.at)) !== 1) ledger.flaws.push(`${name}: its middle is not inside the scan`);
      else if (!piece.holds(solid.at)) ledger.flaws.push(`${name}: not in the piece that ends at the tip`);
    }
    if (part.id === VENT) boreToTheShell(ledger, surface, style, rules, part, own);
    else toTheShell(ledger, surface, style, rules, part, own);
    let apart = Infinity;
    for (const [j, other] of style.parts.entries()) {
      if (j === k) continue;
      const asks = j > k ? kept(part.id, other.id) : undefined;
      apart = Math.min(apart, toAnother(ledger, rules, [part, own], [other, solids.get(other.id) as readonly Solid[]], asks));
    }
    ledger.claim(`${part.id}'s clearance to other parts`, part.clearance?.parts, apart);
  });
  return ledger;
}

/** A part to the surface and the cuts. */
function toTheShell(
  ledger: Ledger,
  surface: Surface,
  { cuts }: StyleDocument,
  rules: VerdictDocument['rules'],
  part: PartDocument,
  own: readonly Solid[],
): void {
  let [wall, plate] = [Infinity, Infinity];
  for (const solid of own) {
    const name = `${part.id}'s ${solid.shape}`;
    const to = distanceTo(surface, solid);
    if (solid.kind === 'service') {
      if (to.most === 0) ledger.flaws.push(`${name} (service room): passes through the scan's surface`);
      const passed = cuts.find((c) => c.name !== 'tip' && topOver(c, solid) > SLACK);
      if (passed) ledger.flaws.push(`${name} (service room): passes the ${passed.name} cut`);
      continue;
    }
    const asked = rules.wall + rules.gap + part.margin;
    ledger.ask(`${name} to the surface`, to, asked);
    wall = Math.min(wall, to.most);
    for (const cut of cuts) {
      const behind = -topOver(cut, solid);
      if (cut.name !== 'outer') {
        ledger.ask(`${name} to the ${cut.name} cut`, exact(behind), asked);
        wall = Math.min(wall, behind);
        continue;
      }
      plate = Math.min(plate, behind);
      if (part.seat !== 'faceplate') ledger.ask(`${name} to the outer cut`, exact(behind), rules.faceplate + rules.gap + part.margin);
      else if (bottomOver(cut, solid) > 0) ledger.flaws.push(`${name}: lies outside the outer cut`);
    }
  }
  ledger.claim(`${part.id}'s clearance to the wall`, part.clearance?.wall, wall);
  ledger.claim(`${part.id}'s clearance to the faceplate`, part.clearance?.faceplate, plate);
}

/** A vent's bore to the surface and the upper face: the wall round it may be the shell's own there. It passes the other two cuts. */
function boreToTheShell(
  ledger: Ledger,
  surface: Surface,
  { cuts }: StyleDocument,
  rules: VerdictDocument['rules'],
  part: PartDocument,
  own: readonly Solid[],
): void {
  const upper = cuts.find((c) => c.name === 'upper');
  let wall = Infinity;
  own.forEach((piece, k) => {
    const bore = boreIn(piece, rules);
    const name = `the vent's bore, piece ${k + 1},`;
    const to = distanceTo(surface, bore);
    ledger.ask(`${name} to the surface`, to, rules.wall);
    const behind = upper ? -topOver(upper, bore) : Infinity;
    if (upper) ledger.ask(`${name} to the upper cut`, exact(behind), rules.wall);
    wall = Math.min(wall, to.most, behind);
  });
  ledger.claim("the vent's clearance to the wall", part.clearance?.wall, wall);
  if (typeof part.clearance?.faceplate === 'number') ledger.flaws.push('the vent: said to keep clear of the outer cut, which it passes');
}

type Placed = readonly [part: PartDocument, solids: readonly Solid[]];

/**
 * How far two parts are apart, solid to solid.
 * @param kept how far their kinds keep apart at least, mm; undefined: what is asked of this pair has been asked.
 */
function toAnother(ledger: Ledger, rules: VerdictDocument['rules'], [part, own]: Placed, [other, others]: Placed, kept?: number): number {
  let apart = Infinity;
  for (const a of own) {
    for (const b of others) {
      if (a.kind === 'service' && b.kind === 'service') continue;
      const gap = gapOf(a, b);
      if (a.kind === 'solid' && b.kind === 'solid') apart = Math.min(apart, gap.most);
      const margins = (a.kind === 'solid' ? part.margin : 0) + (b.kind === 'solid' ? other.margin : 0);
      // The outside of a vent's tube is wall.
      const bare = part.id === VENT || other.id === VENT ? rules.gap : rules.partGap;
      const asked = Math.max(bare + margins, a.kind === b.kind ? (kept ?? 0) : 0);
      if (kept !== undefined) ledger.ask(`${part.id}'s ${a.shape} to ${other.id}'s ${b.shape}`, gap, asked);
    }
  }
  return apart;
}
