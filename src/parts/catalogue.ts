/**
 * Every default of a check that is not geometry: styles, rules, parts. Plain data, all of it editable.
 *
 * Sources. IEC 60086-2 maxima for cells (PR41 and PR48 read in Linden's Handbook of Batteries, table 4.9a; the PR70 row
 * from memory). One receiver body read in Acta Acustica 2024, aacus230084, table 2. All else is common practice, no
 * published source found: editable defaults, from memory. Nothing here is a maker's part.
 */
import type { Quat, Vec3 } from '../geometry/vec.ts';
import type { ReceiverSize } from '../model/order.ts';
import type { Part, Primitive, Rules, StyleName } from '../model/parts.ts';

const MEMORY = 'editable default, from memory';
const PRACTICE = 'common practice, no published source';

export const RULES: Rules = {
  wall: 0.6, // 0.5-0.8, common practice
  faceplate: 0.8, // common practice
  gap: 0.1,
  partGap: 0.1,
  suspension: 0.25, // 0.2-0.5, common practice
  tolerance: 0.1,
};

/** Where a cut of a style lies, mm. */
export interface Style {
  readonly name: StyleName;
  readonly title: string;
  /** Where the faceplate goes: so far lateral of the aperture, or medial of the concha's rim. */
  readonly outer:
    | {
        readonly from: 'aperture';
        readonly lateral: number;
        readonly range: readonly [number, number];
        readonly facing: 'axis' | 'half-way' | 'rim';
      }
    | { readonly from: 'rim'; readonly medial: number };
  /** Where the shell ends: so far medial of a bend; never nearer to the impression's end than `leave`. */
  readonly tip: { readonly bend: 'first' | 'second'; readonly beyond: number; readonly leave: number };
  /** A third cut that leaves the cymba out: so far below the crus's groove. */
  readonly upper?: { readonly belowCrus: number };
  readonly cell: CellSize;
  readonly microphone: 'flat' | 'cylinder';
  readonly microphones: readonly [least: 1 | 2, most: 1 | 2];
  readonly receivers: readonly ReceiverSize[];
  readonly controls: readonly ('pushButton' | 'volumeWheel' | 'telecoil' | 'radio')[];
  readonly removalCord: boolean;
  readonly source: string;
}

export type CellSize = '10' | '312' | '13';

/** From the smallest to the largest. */
export const STYLE_TABLE: readonly Style[] = [
  {
    name: 'IIC',
    title: 'Invisible in canal',
    outer: { from: 'aperture', lateral: -2, range: [-4, -0.5], facing: 'axis' },
    tip: { bend: 'second', beyond: 1, leave: 1 },
    cell: '10',
    microphone: 'flat',
    microphones: [1, 1],
    receivers: ['small'],
    controls: [],
    removalCord: true,
    source: PRACTICE,
  },
  {
    name: 'CIC',
    title: 'Completely in canal',
    outer: { from: 'aperture', lateral: 0.5, range: [-0.5, 2], facing: 'axis' },
    tip: { bend: 'second', beyond: 0, leave: 1 },
    cell: '10',
    microphone: 'flat',
    microphones: [1, 1],
    receivers: ['small', 'medium'],
    controls: [],
    removalCord: true,
    source: PRACTICE,
  },
  {
    name: 'ITC',
    title: 'In the canal',
    outer: { from: 'aperture', lateral: 5, range: [3, 8], facing: 'half-way' },
    tip: { bend: 'first', beyond: 4, leave: 1 },
    cell: '312',
    microphone: 'cylinder',
    microphones: [1, 2],
    receivers: ['small', 'medium', 'large'],
    controls: ['pushButton', 'telecoil'],
    removalCord: false,
    source: PRACTICE,
  },
  {
    name: 'HS',
    title: 'Half shell',
    // The design starts at +8. A size 312 cell on edge needs 0.8 + 8.2 + 0.7 = 9.7 mm from the faceplate to the cavum's floor, which lies about
    // level with the aperture: at +8 it finds that depth in hardly any ear, at the range's lateral end in most. So that end is the start.
    outer: { from: 'aperture', lateral: 10, range: [6, 10], facing: 'rim' },
    tip: { bend: 'first', beyond: 4, leave: 1 },
    upper: { belowCrus: 0.5 },
    cell: '312',
    microphone: 'cylinder',
    microphones: [2, 2],
    receivers: ['small', 'medium', 'large'],
    controls: ['pushButton', 'telecoil'],
    removalCord: false,
    source: PRACTICE,
  },
  {
    name: 'ITE',
    title: 'In the ear',
    outer: { from: 'rim', medial: 1 },
    tip: { bend: 'first', beyond: 4, leave: 1 },
    cell: '13',
    microphone: 'cylinder',
    microphones: [2, 2],
    receivers: ['small', 'medium', 'large', 'extra-large'],
    controls: ['pushButton', 'volumeWheel', 'telecoil', 'radio'],
    removalCord: false,
    source: PRACTICE,
  },
];

/** Two ports under one faceplate, mm and radians (common practice, no published source). */
export const PORTS = { least: 4, most: 12, tilt: (20 * Math.PI) / 180 } as const;
/** A receiver's spout: how near to the tip opening's centre it must end, and how straight it must aim. */
export const SPOUT = { reach: 4, cone: (30 * Math.PI) / 180 } as const;
/** A device's tip past this depth calls for a caution: 25 mm of canal less 10 mm to the drum (21 CFR 800.30 as a yardstick). */
export const DEEP = 15;

const STRAIGHT: Quat = [0, 0, 0, 1];
/** Brings a cylinder's own z axis onto the part's x axis. */
const ON_EDGE: Quat = [0, Math.SQRT1_2, 0, Math.SQRT1_2];
const solid = (shape: Primitive['shape'], size: Vec3, position: Vec3, quaternion = STRAIGHT): Primitive => ({
  shape,
  size,
  position,
  quaternion,
  kind: 'solid',
});

/** Drawer wall round the cell, and contact spring with drawer wall at each face, mm. */
const DRAWER = { round: 0.15, face: 0.15 } as const;
/** IEC 60086-2 maxima, mm: diameter, height. */
export const CELLS: Record<
  CellSize,
  { readonly iec: string; readonly diameter: number; readonly height: number; readonly source: string }
> = {
  '10': { iec: 'PR70', diameter: 5.8, height: 3.6, source: 'IEC 60086-2 maxima, from memory' },
  '312': { iec: 'PR41', diameter: 7.9, height: 3.6, source: "IEC 60086-2 maxima (Linden's Handbook of Batteries, table 4.9a)" },
  '13': { iec: 'PR48', diameter: 7.9, height: 5.4, source: "IEC 60086-2 maxima (Linden's Handbook of Batteries, table 4.9a)" },
};

/** A zinc-air cell on edge in its drawer: its axis in the faceplate's plane, its holed face open to the drawer's air gap. */
export function cellPart(size: CellSize): Part {
  const { iec, diameter, height, source } = CELLS[size];
  const d = diameter + 2 * DRAWER.round;
  const h = height + 2 * DRAWER.face;
  return {
    id: 'cell',
    kind: 'cell',
    name: `Battery ${size}`,
    primitives: [solid('cylinder', [d, d, h], [0, 0, -d / 2], ON_EDGE)],
    seat: { at: 'faceplate' },
    margin: 0,
    source: `${iec}, ${source}; drawer and contacts ${DRAWER.round} mm: ${MEMORY}`,
  };
}

/** Receiver bodies, mm: length along the spout, width, height; spout length and diameter. */
const RECEIVERS: Record<ReceiverSize, readonly [length: number, width: number, height: number, spout: number, spoutDiameter: number]> = {
  small: [5.0, 2.7, 1.9, 1.2, 1.2],
  medium: [6.3, 4.3, 2.9, 1.6, 1.4],
  large: [7.9, 5.6, 4.1, 1.6, 1.4],
  'extra-large': [9.5, 6.5, 4.1, 1.6, 1.4],
};

/** A receiver hung in its suspension; the same free room round its spout is taken by the tube to the tip opening. */
export function receiverPart(size: ReceiverSize, suspension: number): Part {
  const [length, width, height, spout, bore] = RECEIVERS[size];
  return {
    id: 'receiver',
    kind: 'receiver',
    name: `${size.charAt(0).toUpperCase()}${size.slice(1)} receiver`,
    primitives: [solid('box', [width, height, length], [0, 0, 0]), solid('cylinder', [bore, bore, spout], [0, 0, (length + spout) / 2])],
    seat: { at: 'tip', spout: [0, 0, length / 2 + spout], reach: SPOUT.reach, cone: SPOUT.cone },
    margin: suspension,
    source: MEMORY,
  };
}

const MICROPHONES = {
  flat: { primitive: solid('box', [2.75, 1.85, 0.9], [0, 0, -0.45]) },
  cylinder: { primitive: solid('cylinder', [2.56, 2.56, 2.6], [0, 0, -1.3]) },
} as const;

/** A microphone with its port at the faceplate. */
export function microphonePart(id: string, name: string, kind: 'flat' | 'cylinder'): Part {
  return {
    id,
    kind: 'microphone',
    name,
    primitives: [MICROPHONES[kind].primitive],
    seat: { at: 'faceplate' },
    margin: 0,
    source: MEMORY,
  };
}

const part = (id: Part['kind'], name: string, seat: 'faceplate' | 'free', primitive: Primitive): Part => ({
  id,
  kind: id,
  name,
  primitives: [primitive],
  seat: { at: seat },
  margin: 0,
  source: MEMORY,
});

export const CHIP = part('chip', 'Amplifier chip', 'free', solid('box', [3.6, 2.8, 1.4], [0, 0, 0]));
export const REMOVAL_CORD = part('removal-cord', 'Removal cord', 'faceplate', solid('cylinder', [1.0, 1.0, 1.2], [0, 0, -0.6]));
export const PUSH_BUTTON = part('push-button', 'Push button', 'faceplate', solid('cylinder', [3.0, 3.0, 2.5], [0, 0, -1.25]));
export const VOLUME_WHEEL = part('volume-wheel', 'Volume wheel', 'faceplate', solid('cylinder', [5.0, 5.0, 2.5], [0, 0, -1.25]));
export const TELECOIL = part('telecoil', 'Telecoil', 'free', solid('cylinder', [2.0, 2.0, 5.0], [0, 0, 0]));
export const RADIO = part('radio', 'Radio antenna', 'free', solid('box', [6.0, 3.0, 1.0], [0, 0, 0]));
