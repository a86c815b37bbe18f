/**
 * A hand-made case: a bent elliptic tube that opens into a bowl, bodies cut from it, parts placed by hand. Geometric enough
 * to draw, and free of any engine: the screens and the worker protocol are tested with it. Nothing in it is a measurement.
 */
import type { CaseResult, CheckHooks, CheckRequest, Stage } from '../../src/engine/types.ts';
import { boundsOf, type Mesh, volumeOf } from '../../src/geometry/mesh.ts';
import { quatBetween, quatFromAxes } from '../../src/geometry/rotation.ts';
import { normalize, type Point, type Pose, pt, type Vec3 } from '../../src/geometry/vec.ts';
import type { CanalSection, Ear } from '../../src/model/ear.ts';
import { Fault } from '../../src/model/fault.ts';
import type { Body, Clearance, Evidence, Reason, Rung, Verdict } from '../../src/model/fit.ts';
import type { Order } from '../../src/model/order.ts';
import type { Kit, Part, Primitive, Rules, StyleName } from '../../src/model/parts.ts';
import { STYLES } from '../../src/model/parts.ts';
import type { Scan } from '../../src/model/scan.ts';

const AROUND = 72;
const END = 19;
const LATERAL = -15;

const smooth = (x: number): number => {
  const t = Math.max(0, Math.min(1, x));
  return t * t * (3 - 2 * t);
};
/** Centreline: two gentle bends, forward and back. */
const centre = (d: number): Point<'ear'> =>
  pt(2.2 * smooth((d - 3) / 8) - 1.8 * smooth((d - 11) / 7), 1.1 * smooth((d - 8) / 10) - 0.8 * smooth(-d / 9), -d);
const tangent = (d: number): Point<'ear'> => {
  const a = centre(d - 0.05);
  const b = centre(d + 0.05);
  return normalize(pt(b[0] - a[0], b[1] - a[1], b[2] - a[2]));
};
const radii = (d: number): [anterior: number, superior: number] => {
  const open = smooth((-d - 0.5) / 8);
  const narrow = smooth((d - 2) / 14);
  return [3.6 - 0.5 * narrow + 5.4 * open, 4.9 - 0.9 * narrow + 6.6 * open];
};
const ringPoint = (d: number, k: number, scale = 1): Vec3 => {
  const a = (2 * Math.PI * k) / AROUND;
  const [rx, ry] = radii(d);
  const c = centre(d);
  const bulge = 1 + 0.05 * Math.sin(3 * a + d / 3) + (d < -4 ? 0.06 * Math.sin(2 * a + 1) : 0);
  return [c[0] + scale * bulge * rx * Math.cos(a), c[1] + scale * bulge * ry * Math.sin(a), c[2]];
};

/** The tube between two depths, closed; `dome` rounds the medial end. Faces: 0 side, 1 outer cap, 2 tip cap. */
function tube(from: number, to: number, dome: boolean): { mesh: Mesh<'ear'>; face: Uint8Array } {
  const positions: number[] = [];
  const indices: number[] = [];
  const face: number[] = [];
  const rings: [depth: number, scale: number][] = [];
  const steps = Math.max(4, Math.round((to - from) / 0.4));
  for (let i = 0; i <= steps; i++) rings.push([from + ((to - from) * i) / steps, 1]);
  if (dome) for (let i = 1; i <= 6; i++) rings.push([to + 1.6 * Math.sin((i * Math.PI) / 14), Math.cos((i * Math.PI) / 14)]);
  for (const [d, s] of rings) for (let k = 0; k < AROUND; k++) positions.push(...ringPoint(d, k, s));
  for (let r = 0; r + 1 < rings.length; r++) {
    for (let k = 0; k < AROUND; k++) {
      const a = r * AROUND + k;
      const b = r * AROUND + ((k + 1) % AROUND);
      const c = a + AROUND;
      const e = b + AROUND;
      indices.push(a, c, b, b, c, e);
      face.push(0, 0);
    }
  }
  for (const [ring, number, flip] of [
    [0, 1, false],
    [rings.length - 1, 2, true],
  ] as const) {
    const [d] = rings[ring] as [number, number];
    const middle = positions.length / 3;
    positions.push(...centre(d));
    for (let k = 0; k < AROUND; k++) {
      const a = ring * AROUND + k;
      const b = ring * AROUND + ((k + 1) % AROUND);
      indices.push(...(flip ? [middle, b, a] : [middle, a, b]));
      face.push(dome && number === 2 ? 0 : number);
    }
  }
  return {
    mesh: { frame: 'ear', positions: Float64Array.from(positions), indices: Uint32Array.from(indices) },
    face: Uint8Array.from(face),
  };
}

function makeEar(side: 'left' | 'right'): Ear {
  const depths = Array.from({ length: 69 }, (_, i) => LATERAL + i * 0.5);
  const sections: CanalSection[] = depths
    .filter((d) => d >= -1 && d <= END)
    .map((d) => {
      const [rx, ry] = radii(d);
      return {
        depth: d,
        at: centre(d),
        tangent: tangent(d),
        area: Math.PI * rx * ry,
        major: 2 * ry,
        minor: 2 * rx,
        perimeter: Math.PI * (rx + ry),
        majorDirection: pt(0, 1, 0),
        minorDirection: pt(1, 0, 0),
      };
    });
  const a = side === 'right' ? 1 : -1;
  return {
    frame: { side, origin: pt(0, 0, 0), anterior: pt(a, 0, 0), superior: pt(0, 1, 0), lateral: pt(0, 0, 1) },
    cast: tube(LATERAL, END, true).mesh,
    centreline: {
      points: Float64Array.from(depths.flatMap((d) => [...centre(d)])),
      tangents: Float64Array.from(depths.flatMap((d) => [...tangent(d)])),
      depths: Float64Array.from(depths),
    },
    sections,
    aperture: { at: centre(0), depth: 0, confidence: 0.9 },
    firstBend: { at: centre(7), depth: 7, confidence: 0.8, angle: 0.4 },
    secondBend: { at: centre(14), depth: 14, confidence: 0.7, angle: 0.35 },
    end: { at: centre(END), depth: END, confidence: 1 },
    rim: { plane: { point: centre(-10), normal: pt(0, 0, 1) }, confidence: 0.7 },
    crus: { at: pt(2, 4, 9), confidence: 0.6 },
  };
}

const box = (size: Vec3): Primitive => ({ shape: 'box', size, position: [0, 0, 0], quaternion: [0, 0, 0, 1], kind: 'solid' });
const part = (id: string, kind: Part['kind'], name: string, primitives: Primitive[], seat: Part['seat']): Part => ({
  id,
  kind,
  name,
  primitives,
  seat,
  margin: kind === 'receiver' ? 0.25 : 0,
  source: 'hand-made',
});
const IDENTITY = [0, 0, 0, 1] as const;

function makeKit(style: StyleName): Kit {
  const cell = style === 'IIC' || style === 'CIC' ? [5.8, 3.6] : style === 'ITC' ? [7.9, 3.6] : [7.9, 5.4];
  const onEdge = quatFromAxes([0, 0, 1], [0, 1, 0], [-1, 0, 0]);
  const parts: Part[] = [
    part(
      'cell',
      'cell',
      `Battery ${style === 'IIC' || style === 'CIC' ? '10' : style === 'ITC' ? '312' : '13'} in its drawer`,
      [
        {
          shape: 'cylinder',
          size: [cell[0] as number, cell[0] as number, cell[1] as number],
          position: [0, 0, -(cell[0] as number) / 2],
          quaternion: onEdge,
          kind: 'solid',
        },
      ],
      { at: 'faceplate' },
    ),
    part(
      'receiver',
      'receiver',
      'Receiver, small',
      [box([1.9, 2.7, 5]), { shape: 'capsule', size: [1.4, 1.4, 2.4], position: [0, 0, 3], quaternion: IDENTITY, kind: 'service' }],
      { at: 'tip', spout: [0, 0, 2.5], reach: 4, cone: 0.52 },
    ),
    part('chip', 'chip', 'Amplifier chip', [box([1.4, 3.2, 3.6])], { at: 'free' }),
    part(
      'front-microphone',
      'microphone',
      'Front microphone',
      [{ shape: 'cylinder', size: [2.3, 2.3, 2.3], position: [0, 0, -1.15], quaternion: IDENTITY, kind: 'solid' }],
      { at: 'faceplate' },
    ),
  ];
  if (style !== 'IIC' && style !== 'CIC') {
    parts.push(
      part(
        'push-button',
        'push-button',
        'Push button',
        [{ shape: 'cylinder', size: [3, 3, 2.4], position: [0, 0, -1.2], quaternion: IDENTITY, kind: 'solid' }],
        { at: 'faceplate' },
      ),
    );
  }
  return { style, parts, pairRules: [] };
}

const OUTER: Record<StyleName, number> = { IIC: 2, CIC: -0.5, ITC: -5, HS: -8, ITE: -11 };
const TIP: Record<StyleName, number> = { IIC: 15, CIC: 14, ITC: 11, HS: 11, ITE: 11 };

function poses(style: StyleName): Pose<'ear'>[] {
  const outer = OUTER[style] + 0.8;
  const wide = style === 'IIC' || style === 'CIC' ? 1 : 1.6;
  const at = (x: number, y: number, d: number): Point<'ear'> => pt(centre(d)[0] + x, centre(d)[1] + y, -d);
  const tip = TIP[style];
  const list: Pose<'ear'>[] = [
    { position: at(0, 1.4 * wide - 0.9, outer), quaternion: quatBetween([0, 0, 1], [0, 0, 1]) },
    { position: at(0, 0.2, tip - 3.4), quaternion: quatBetween([0, 0, 1], tangent(tip - 3.4)) },
    { position: at(-1.2, -2.1 * wide, outer + 3.2), quaternion: IDENTITY },
    { position: at(1.3 * wide, -2.7 * wide, outer), quaternion: IDENTITY },
  ];
  if (wide > 1) list.push({ position: at(-2.6 * wide, -1.8 * wide, outer), quaternion: IDENTITY });
  return list;
}

function makeBody(style: StyleName): Body {
  const { mesh, face } = tube(OUTER[style], TIP[style], false);
  const o = centre(OUTER[style]);
  const t = centre(TIP[style]);
  return {
    style,
    cuts: [
      { name: 'outer', plane: { point: o, normal: pt(0, 0, 1) } },
      { name: 'tip', plane: { point: t, normal: pt(0, 0, -1) } },
    ],
    mesh,
    face,
    volume: volumeOf(mesh),
    tip: { at: t, tangent: tangent(TIP[style]) },
    seed: centre((OUTER[style] + TIP[style]) / 2),
  };
}

function makeEvidence(kit: Kit, spare: number): Evidence {
  const clearance: Clearance[] = kit.parts.map((p, i) => ({
    wall: 0.7 + spare + 0.13 * i,
    parts: 0.35 + 0.11 * i,
    faceplate: p.seat.at === 'faceplate' ? 0.8 : 1.4 + i,
  }));
  const tightest = { kind: 'wall', part: 'receiver', has: 0.95 + spare, asked: 0.95, spare, at: centre(10) } as const;
  return { sound: true, spare, tightest, measured: [tightest], clearance, overlapVolume: 0, faults: [] };
}

const ANSWERS: Record<StyleName, { verdict: Verdict; found?: number; ceiling: number; reasons: Reason[] }> = {
  IIC: {
    verdict: 'does-not-fit',
    found: -1.32,
    ceiling: -1.04,
    reasons: [
      {
        code: 'in-line',
        text: 'The battery and the receiver need 12.40 mm in line; this canal offers 11.20 mm before its second bend.',
        parts: ['cell', 'receiver'],
        needs: 12.4,
        has: 11.2,
        at: centre(9),
      },
    ],
  },
  CIC: {
    verdict: 'tight',
    found: 0.04,
    ceiling: 0.61,
    reasons: [
      {
        code: 'tight',
        text: 'Tightest at the receiver against the wall, 9.8 mm deep.',
        parts: ['receiver'],
        needs: 0.95,
        has: 0.99,
        at: centre(9.8),
      },
    ],
  },
  ITC: { verdict: 'fits', found: 0.37, ceiling: 1.2, reasons: [] },
  HS: {
    verdict: 'unsettled',
    found: -0.22,
    ceiling: Number.POSITIVE_INFINITY,
    reasons: [
      { code: 'unsettled', text: 'No arrangement found; the best lacks 0.22 mm. Not proved.', parts: ['cell', 'chip'], at: centre(-4) },
    ],
  },
  ITE: {
    verdict: 'not-judged',
    ceiling: Number.POSITIVE_INFINITY,
    reasons: [{ code: 'reach', text: 'The cast ends 3.10 mm short of the rim that this style needs.', parts: [], needs: 12, has: 8.9 }],
  },
};

export function standInRung(style: StyleName): Rung {
  const kit = makeKit(style);
  const answer = ANSWERS[style];
  const base = {
    style,
    verdict: answer.verdict,
    ceiling: answer.ceiling,
    reasons: answer.reasons,
    cautions: style === 'IIC' ? ['Deep in the canal: more than 15 mm from the aperture.'] : [],
  };
  if (answer.verdict === 'not-judged') return base;
  return {
    ...base,
    found: answer.found as number,
    body: makeBody(style),
    kit,
    arrangement: { poses: poses(style), spare: answer.found as number },
    evidence: makeEvidence(kit, answer.found as number),
  };
}

const ORDER: Order = { receiver: 'small', microphones: 1, pushButton: false, volumeWheel: false, telecoil: false, radio: false };
const RULES: Rules = { wall: 0.6, faceplate: 0.8, gap: 0.1, partGap: 0.1, suspension: 0.25, tolerance: 0.1 };

function makeScan(name: string, ear: Ear): Scan {
  const positions = ear.cast.positions.slice();
  return {
    name,
    sha256: 'f'.repeat(64),
    format: 'stl-binary',
    unit: 'mm',
    mesh: { frame: 'scan', positions, indices: ear.cast.indices },
    read: { triangles: ear.cast.indices.length / 3, vertices: positions.length / 3, pieces: 1, openLoops: [] },
    volume: volumeOf(ear.cast),
    area: 900,
    bounds: boundsOf(positions),
    findings: [
      { code: 'scan/closed-base', level: 'changed', text: 'The open base was closed with a flat cap.', count: 72 },
      { code: 'scan/unit', level: 'note', text: 'Read as millimetres: the cast is 34.0 mm long.' },
    ],
  };
}

export interface StandInHooks extends CheckHooks {
  /** Milliseconds that each step takes. */
  readonly pause?: number;
  readonly kernelUrl?: string;
}

/** As the engine's `check`, with answers that never change. A file shorter than 84 bytes is refused. */
export async function check(request: CheckRequest, hooks: StandInHooks = {}): Promise<CaseResult> {
  const { onEvent, signal, pause = 0 } = hooks;
  const step = async (stage: Stage, done: number, style?: StyleName): Promise<void> => {
    onEvent?.({ type: 'working', stage, done, ...(style ? { style } : {}) });
    await new Promise((resolve) => setTimeout(resolve, pause));
    signal?.throwIfAborted();
  };
  await step('scan', 0);
  if (request.bytes.length < 84) {
    throw new Fault(
      'scan/too-short',
      `The file has ${request.bytes.length} bytes, fewer than a header`,
      'whole file',
      'Export the scan again as STL.',
    );
  }
  const side = request.side ?? (/left/i.test(request.name) ? 'left' : /right/i.test(request.name) ? 'right' : undefined);
  if (!side) throw new Fault('side/unknown', 'The name does not say which ear this is', request.name, 'Say left or right.');
  const ear = makeEar(side);
  const scan = makeScan(request.name, ear);
  onEvent?.({ type: 'scan', scan });
  await step('ear', 0.05);
  onEvent?.({ type: 'ear', ear });
  const rungs: Rung[] = [];
  for (const [i, style] of (request.styles ?? STYLES).entries()) {
    for (const [k, stage] of (['trim', 'field', 'arrange', 'verify', 'prove'] as const).entries())
      await step(stage, 0.1 + 0.18 * i + 0.03 * k, style);
    const rung = standInRung(style);
    rungs.push(rung);
    onEvent?.({ type: 'rung', rung });
  }
  return {
    scan,
    side,
    ear,
    corrections: request.corrections ?? {},
    order: { ...ORDER, ...request.order },
    rules: { ...RULES, ...request.rules },
    seed: request.seed ?? 1,
    cuts: {},
    effort: request.effort ?? 'normal',
    rungs,
    recommended: { style: 'ITC', why: 'The smallest style that fits, with 0.37 mm to spare.', larger: [] },
    findings: scan.findings,
  };
}
