/**
 * The verdict document: everything a check found, in scan coordinates, as plain JSON.
 *
 * Field names are stable. Lengths mm, areas mm2, volumes mm3, angles degrees. A primitive's `size` is its extent along
 * its own x, y, z; a cylinder or capsule runs along z, so its size is [diameter, diameter, length], a capsule's length
 * counting both round ends. A ceiling of null means that nothing is proved.
 */
import { directionToScan, pointToScan, poseToScan } from '../ear/frame.ts';
import { compose } from '../geometry/rotation.ts';
import type { Pose } from '../geometry/vec.ts';
import type { CaseResult } from '../model/case.ts';
import type { EarFrame } from '../model/ear.ts';
import type { Assembly, Missing, Remedy, Rung } from '../model/fit.ts';
import type { Scan } from '../model/scan.ts';
import type { Steadiness } from '../model/steady.ts';
import { coilOf } from './coil.ts';
import { earDocument, planeDocument } from './ear.ts';
import { round, triple } from './numbers.ts';
import { portsOf } from './ports.ts';
import { ventOf } from './vent.ts';

/** A spare may be rounded down only, so that no reported figure is above the measured one. */
const floor = (x: number): number => Math.floor(x * 1e4) / 1e4;
const finite = (x: number): number | null => (Number.isFinite(x) ? round(x) : null);

/** The scan as it was read. */
export function scanDocument(scan: Scan) {
  return {
    file: scan.name,
    sha256: scan.sha256,
    format: scan.format,
    triangles: scan.read.triangles,
    unit: scan.unit,
    volume: round(scan.volume),
    area: round(scan.area),
  };
}

const findingDocument = (f: CaseResult['findings'][number]) => ({
  code: f.code,
  level: f.level,
  text: f.text,
  ...(f.count === undefined ? {} : { count: f.count }),
  ...(f.at ? { at: triple(f.at) } : {}),
});

/** A change that was tried, and what it gave. `change` is written as a case file has it. */
const remedyDocument = ({ code, text, change, style, verdict, found }: Remedy) => ({
  code,
  text,
  change,
  style,
  verdict,
  found: floor(found),
});

/** The same style by other seeds, and with one figure a little off: verdicts, spares in mm, \`slope\` in mm a mm. */
const steadyDocument = ({ text, stopped, seeds, nudges }: Steadiness) => {
  const outcome = <O extends { readonly found?: number }>(o: O) => ({ ...o, ...(o.found === undefined ? {} : { found: floor(o.found) }) });
  return {
    text,
    stopped,
    seeds: {
      proved: seeds.proved,
      same: seeds.same,
      ...(seeds.spares ? { least: floor(seeds.spares.least), most: floor(seeds.spares.most) } : {}),
      runs: seeds.runs.map(outcome),
    },
    nudges: nudges.map(({ figure, by, more, less, slope }) => ({
      figure,
      by,
      ...(more ? { more: outcome(more) } : {}),
      ...(less ? { less: outcome(less) } : {}),
      ...(slope === undefined ? {} : { slope: round(slope) }),
    })),
  };
};

/** How much is missing: per cent, mm; `change` as a case file has it. Where nothing was enough there is no \`enough\`. */
const missingDocument = ({ larger, allRound, shifts, tenth, lines, runs }: Missing) => ({
  ...(larger ? { larger: { ...larger, found: floor(larger.found) } } : {}),
  ...(allRound ? { allRound: { ...allRound } } : {}),
  shifts: shifts.map(({ enough, ...rest }) => ({ ...rest, ...(enough ? { enough: { ...enough, found: floor(enough.found) } } : {}) })),
  ...(tenth ? { tenth: { ...tenth, found: floor(tenth.found) } } : {}),
  lines,
  runs,
});

/** One rung. Poses are each primitive's own, in scan coordinates. */
function styleDocument(rung: Rung, frame: EarFrame) {
  const { body, kit, arrangement, evidence } = rung;
  return {
    style: rung.style,
    verdict: rung.verdict,
    found: rung.found === undefined ? null : floor(rung.found),
    ceiling: finite(rung.ceiling),
    proved: rung.proved ?? [],
    cuts: (body?.cuts ?? []).map((c) => ({ name: c.name, ...planeDocument(frame, c.plane) })),
    bodyVolume: body ? round(body.volume) : null,
    parts: kit && arrangement ? partsDocument(rung, frame) : [],
    sound: evidence ? evidence.sound : null,
    microphones: portsDocument(rung),
    telecoil: coilDocument(rung),
    vent: ventDocument(rung, frame),
    assembly: rung.assembly ? assemblyDocument(rung.assembly, frame) : null,
    reasons: rung.reasons.map((r) => ({
      code: r.code,
      text: r.text,
      parts: r.parts,
      ...(r.needs === undefined ? {} : { needs: round(r.needs) }),
      ...(r.has === undefined ? {} : { has: round(r.has) }),
      ...(r.at ? { at: triple(pointToScan(frame, r.at)) } : {}),
      ...(r.across
        ? { across: { from: triple(pointToScan(frame, r.across.from)), along: triple(directionToScan(frame, r.across.along)) } }
        : {}),
    })),
    remedies: (rung.remedies ?? []).map(remedyDocument),
    steady: rung.steady ? steadyDocument(rung.steady) : null,
    missing: rung.missing ? missingDocument(rung.missing) : null,
    cautions: rung.cautions,
  };
}

/** Lengths mm, tilt degrees, delay microseconds, first null Hz, level dB. */
function portsDocument(rung: Rung) {
  const ports = portsOf(rung);
  return ports ? Object.fromEntries(Object.entries(ports).map(([key, x]) => [key, round(x)])) : null;
}

/** Degrees; dB, null for a coil that lies level. */
function coilDocument(rung: Rung) {
  const coil = coilOf(rung);
  return coil ? { tilt: round(coil.tilt), level: finite(coil.level) } : null;
}

/** A vent's bore: diameter and length, mm, and the corners of its middle line from outside in. */
function ventDocument(rung: Rung, frame: EarFrame) {
  const vent = ventOf(rung);
  if (!vent) return null;
  const { diameter, length, line } = vent;
  return { diameter, length: round(length), line: line.map((p) => triple(pointToScan(frame, p))) };
}

const poseDocument = (frame: EarFrame, pose: Pose<'ear'>) => {
  const { position, quaternion } = poseToScan(frame, pose);
  return { position: triple(position), quaternion: quaternion.map((x) => Math.round(x * 1e12) / 1e12) };
};

/**
 * How the parts go in, one move after the other: for each part of a move the poses of its own frame from outside to its
 * place, as many for each part. Between two of them positions run straight and turns along the shorter way.
 */
function assemblyDocument(assembly: Assembly, frame: EarFrame) {
  if (assembly.kind === 'stuck') {
    const { parts, at, depth, lacks } = assembly;
    return { stuck: { parts, at: triple(pointToScan(frame, at)), depth: round(depth), lacks: round(lacks) } };
  }
  return {
    order: assembly.moves.map((m) => m.parts),
    least: floor(assembly.least),
    moves: assembly.moves.map((m) => ({
      parts: m.parts.map((id, i) => ({ id, poses: m.poses.map((step) => poseDocument(frame, step[i] as Pose<'ear'>)) })),
    })),
  };
}

function partsDocument({ kit, arrangement, evidence }: Rung, frame: EarFrame) {
  return (kit?.parts ?? []).map((part, k) => {
    const pose = arrangement?.poses[k];
    const clearance = evidence?.clearance[k];
    return {
      id: part.id,
      name: part.name,
      seat: part.seat.at,
      margin: part.margin,
      source: part.source,
      primitives: pose
        ? part.primitives.map((p) => {
            const placed = poseToScan(frame, compose(pose, p));
            return {
              shape: p.shape,
              size: triple(p.size),
              position: triple(placed.position),
              quaternion: placed.quaternion.map((x) => Math.round(x * 1e12) / 1e12),
              kind: p.kind,
            };
          })
        : [],
      clearance: clearance
        ? {
            wall: floor(clearance.wall),
            parts: Number.isFinite(clearance.parts) ? floor(clearance.parts) : null,
            faceplate: Number.isFinite(clearance.faceplate) ? floor(clearance.faceplate) : null,
          }
        : null,
    };
  });
}

/** The whole document (design section 5). Same scan, order, rules and seed: the same bytes. */
export function verdictDocument(result: CaseResult) {
  const { scan, ear, corrections, order, needs = [], rules, recommended } = result;
  return {
    format: 'cavum-verdict',
    version: 1,
    scan: { ...scanDocument(scan), side: result.side, findings: result.findings.map(findingDocument) },
    ear: earDocument(ear, rules.wall),
    corrections,
    order,
    needs,
    rules,
    seed: result.seed,
    effort: result.effort,
    cuts: result.cuts,
    styles: result.rungs.map((r) => styleDocument(r, ear.frame)),
    recommended: { style: recommended.style ?? null, why: recommended.why, larger: recommended.larger, smaller: recommended.smaller ?? [] },
    caution: CAUTION,
  };
}

export const CAUTION = 'Cavum checks geometry; it does not prescribe. Local codes and licensed practice decide what is worn.';
