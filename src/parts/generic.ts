/**
 * Our catalogue: generic, by size class, no maker's parts. Plain data in the form of a catalogue file (`cavum catalogue
 * show` prints it), so that a lab's own file can replace or extend every value.
 *
 * Sources stand beside the values. What is "from memory" is an editable default, never a fact.
 */
import type { CatalogueFile, PartFile, StyleFile } from './schema.ts';

const MEMORY = 'editable default, from memory';
const PRACTICE = 'common practice, no published source';
const LINDEN = "IEC 60086-2 maxima (Linden's Handbook of Batteries, table 4.9a)";
/** Drawer wall round the cell, and contact spring with drawer wall at each face: 0.15 mm on every side; a hinge along its top edge. */
const DRAWER = `drawer and contacts 0.15 mm, hinge 0.8 × 0.8 mm: ${MEMORY}`;
const CONTACTS = `charging contacts beside the drawer's top: ${MEMORY}; rechargeable rounds come in the same shells`;

/**
 * On edge under the faceplate: the axis in the faceplate's plane, the holed face open to the drawer's air gap. The drawer is cut
 * out of the faceplate and swings out through that opening about its hinge, so that its swing and the cell's way out lie outside.
 * Tried: room inside for the arc that a rigid drawer sweeps (sqrt(2) r on the side away from the hinge): an average ear then no
 * longer took an ITC (0.32 mm to spare became -0.34), which practice contradicts. A lab whose drawers need it adds it as service room.
 */
const drawerOf = (diameter: number, height: number): PartFile['primitives'] => {
  const [d, h] = [rounded(diameter + 0.3), rounded(height + 0.3)];
  return [
    { shape: 'cylinder', size: [d, d, h], position: [0, 0, -d / 2], along: 'x' },
    { shape: 'box', size: [h, 0.8, 0.8], position: [0, rounded(0.4 - d / 2), -0.4] },
  ];
};
const rounded = (x: number): number => Math.round(1000 * x) / 1000;

const CELLS: PartFile[] = [
  {
    id: 'cell-10',
    kind: 'cell',
    name: 'Battery 10',
    holds: { cell: 'PR70', diameter: 5.8, height: 3.6 },
    primitives: drawerOf(5.8, 3.6),
    seat: { at: 'faceplate' },
    source: `PR70, IEC 60086-2 maxima, from memory; ${DRAWER}`,
  },
  {
    id: 'cell-312',
    kind: 'cell',
    name: 'Battery 312',
    holds: { cell: 'PR41', diameter: 7.9, height: 3.6 },
    primitives: drawerOf(7.9, 3.6),
    seat: { at: 'faceplate' },
    source: `PR41, ${LINDEN}; ${DRAWER}`,
  },
  {
    id: 'cell-13',
    kind: 'cell',
    name: 'Battery 13',
    holds: { cell: 'PR48', diameter: 7.9, height: 5.4 },
    primitives: drawerOf(7.9, 5.4),
    seat: { at: 'faceplate' },
    source: `PR48, ${LINDEN}; ${DRAWER}`,
  },
  {
    id: 'cell-312-rechargeable',
    kind: 'cell',
    name: 'Rechargeable 312',
    holds: { cell: 'PR41', diameter: 7.9, height: 3.6 },
    primitives: [...drawerOf(7.9, 3.6), { shape: 'box', size: [2, 5, 0.6], position: [0, 0, -0.3] }],
    seat: { at: 'faceplate' },
    source: `PR41 shell, ${LINDEN}; ${DRAWER}; ${CONTACTS}`,
  },
  {
    id: 'cell-13-rechargeable',
    kind: 'cell',
    name: 'Rechargeable 13',
    holds: { cell: 'PR48', diameter: 7.9, height: 5.4 },
    primitives: [...drawerOf(7.9, 5.4), { shape: 'box', size: [2, 5, 0.6], position: [0, 0, -0.3] }],
    seat: { at: 'faceplate' },
    source: `PR48 shell, ${LINDEN}; ${DRAWER}; ${CONTACTS}`,
  },
];

/** Where a receiver's spout must end and aim (common practice, no published source). */
const AIM = { reach: 4, cone: 30 };
const TUBE = 'tube and wax guard 2 mm wide, 3 mm past the spout';
/** From the spout's end: the tube to the tip opening with the wax guard in it, room that nothing else may take; it may pass the tip cut. */
const tubeFrom = (spout: number): PartFile['primitives'][number] => ({
  shape: 'capsule',
  size: [2, 2, 4],
  position: [0, 0, spout + 1],
  kind: 'service',
});
/** Bodies lie along the spout. The suspension's room round the spout is taken by the tube to the tip opening. */
const RECEIVERS: PartFile[] = [
  {
    id: 'receiver-small',
    kind: 'receiver',
    name: 'Small receiver',
    primitives: [{ shape: 'box', size: [2.7, 1.9, 5] }, { shape: 'cylinder', size: [1.2, 1.2, 1.2], position: [0, 0, 3.1] }, tubeFrom(3.7)],
    seat: { at: 'tip', spout: [0, 0, 3.7], ...AIM },
    margin: 'suspension',
    source: `${MEMORY}; ${TUBE}`,
  },
  {
    id: 'receiver-medium',
    kind: 'receiver',
    name: 'Medium receiver',
    primitives: [
      { shape: 'box', size: [4.3, 2.9, 6.3] },
      { shape: 'cylinder', size: [1.4, 1.4, 1.6], position: [0, 0, 3.95] },
      tubeFrom(4.75),
    ],
    seat: { at: 'tip', spout: [0, 0, 4.75], ...AIM },
    margin: 'suspension',
    source: `${MEMORY}; ${TUBE}`,
  },
  {
    id: 'receiver-large',
    kind: 'receiver',
    name: 'Large receiver',
    primitives: [
      { shape: 'box', size: [5.6, 4.1, 7.9] },
      { shape: 'cylinder', size: [1.4, 1.4, 1.6], position: [0, 0, 4.75] },
      tubeFrom(5.55),
    ],
    seat: { at: 'tip', spout: [0, 0, 5.55], ...AIM },
    margin: 'suspension',
    source: `${MEMORY}; ${TUBE}; spout length and diameter as one body measured in Acta Acustica 2024, aacus230084, table 2`,
  },
  {
    id: 'receiver-extra-large',
    kind: 'receiver',
    name: 'Extra-large receiver',
    primitives: [
      { shape: 'box', size: [6.5, 4.1, 9.5] },
      { shape: 'cylinder', size: [1.4, 1.4, 1.6], position: [0, 0, 5.55] },
      tubeFrom(6.35),
    ],
    seat: { at: 'tip', spout: [0, 0, 6.35], ...AIM },
    margin: 'suspension',
    source: `${MEMORY}; ${TUBE}`,
  },
];

const OTHERS: PartFile[] = [
  {
    id: 'microphone-flat',
    kind: 'microphone',
    name: 'Flat microphone',
    primitives: [{ shape: 'box', size: [2.75, 1.85, 0.9], position: [0, 0, -0.45] }],
    seat: { at: 'faceplate' },
    source: MEMORY,
  },
  {
    id: 'microphone-cylinder',
    kind: 'microphone',
    name: 'Cylindrical microphone',
    primitives: [{ shape: 'cylinder', size: [2.56, 2.56, 2.6], position: [0, 0, -1.3] }],
    seat: { at: 'faceplate' },
    source: MEMORY,
  },
  {
    id: 'chip',
    kind: 'chip',
    name: 'Amplifier chip',
    primitives: [{ shape: 'box', size: [3.6, 2.8, 1.4] }],
    seat: { at: 'free' },
    source: MEMORY,
  },
  {
    id: 'removal-cord',
    kind: 'removal-cord',
    name: 'Removal cord',
    primitives: [{ shape: 'cylinder', size: [1, 1, 1.2], position: [0, 0, -0.6] }],
    seat: { at: 'faceplate' },
    source: MEMORY,
  },
  {
    id: 'push-button',
    kind: 'push-button',
    name: 'Push button',
    primitives: [{ shape: 'cylinder', size: [3, 3, 2.5], position: [0, 0, -1.25] }],
    seat: { at: 'faceplate' },
    source: MEMORY,
  },
  {
    id: 'volume-wheel',
    kind: 'volume-wheel',
    name: 'Volume wheel',
    primitives: [{ shape: 'cylinder', size: [5, 5, 2.5], position: [0, 0, -1.25] }],
    seat: { at: 'faceplate' },
    source: MEMORY,
  },
  {
    id: 'telecoil',
    kind: 'telecoil',
    name: 'Telecoil',
    primitives: [{ shape: 'cylinder', size: [2, 2, 5] }],
    seat: { at: 'free' },
    source: MEMORY,
  },
  {
    id: 'radio',
    kind: 'radio',
    name: 'Radio antenna',
    primitives: [
      { shape: 'box', size: [6, 3, 1] },
      { shape: 'box', size: [7, 4, 2], kind: 'service' },
    ],
    seat: { at: 'free' },
    source: `${MEMORY}; 0.5 mm all round kept clear of other parts`,
  },
];

const SMALL = 'receiver-small';
const UP_TO_MEDIUM = { small: SMALL, medium: 'receiver-medium' };
const UP_TO_LARGE = { ...UP_TO_MEDIUM, large: 'receiver-large' };

const STYLE_ROWS: StyleFile[] = [
  {
    name: 'IIC',
    outer: { from: 'aperture', lateral: -2, range: [-4, -0.5], facing: 'axis' },
    tip: { bend: 'second', beyond: 1, leave: 1 },
    kit: [
      { takes: 'cell', part: 'cell-10' },
      { takes: 'receiver', sizes: { small: SMALL } },
      { takes: 'part', part: 'chip' },
      { takes: 'microphones', part: 'microphone-flat', least: 1, most: 1 },
      { takes: 'part', part: 'removal-cord' },
    ],
    source: PRACTICE,
  },
  {
    name: 'CIC',
    outer: { from: 'aperture', lateral: 0.5, range: [-0.5, 2], facing: 'axis' },
    tip: { bend: 'second', beyond: 0, leave: 1 },
    kit: [
      { takes: 'cell', part: 'cell-10' },
      { takes: 'receiver', sizes: UP_TO_MEDIUM },
      { takes: 'part', part: 'chip' },
      { takes: 'microphones', part: 'microphone-flat', least: 1, most: 1 },
      { takes: 'part', part: 'removal-cord' },
    ],
    source: PRACTICE,
  },
  {
    name: 'ITC',
    outer: { from: 'aperture', lateral: 5, range: [3, 8], facing: 'half-way' },
    tip: { bend: 'first', beyond: 4, leave: 1 },
    kit: [
      { takes: 'cell', part: 'cell-312', rechargeable: 'cell-312-rechargeable', alternatives: ['cell-10'] },
      { takes: 'receiver', sizes: UP_TO_LARGE },
      { takes: 'part', part: 'chip' },
      { takes: 'microphones', part: 'microphone-cylinder', least: 1, most: 2 },
      { takes: 'wish', wish: 'pushButton', part: 'push-button' },
      { takes: 'wish', wish: 'telecoil', part: 'telecoil' },
    ],
    source: PRACTICE,
  },
  {
    name: 'HS',
    // A size 312 cell on edge needs 0.8 + 8.2 + 0.7 = 9.7 mm from the faceplate to the cavum's floor, which lies about level with the aperture:
    // at +8 it finds that depth in hardly any ear, at the range's lateral end in most. So that end is the start.
    outer: { from: 'aperture', lateral: 10, range: [6, 10], facing: 'rim' },
    tip: { bend: 'first', beyond: 4, leave: 1 },
    upper: { belowCrus: 0.5 },
    kit: [
      { takes: 'cell', part: 'cell-312', rechargeable: 'cell-312-rechargeable', alternatives: ['cell-13', 'cell-10'] },
      { takes: 'receiver', sizes: UP_TO_LARGE },
      { takes: 'part', part: 'chip' },
      { takes: 'microphones', part: 'microphone-cylinder', least: 2, most: 2 },
      { takes: 'wish', wish: 'pushButton', part: 'push-button' },
      { takes: 'wish', wish: 'telecoil', part: 'telecoil' },
    ],
    source: PRACTICE,
  },
  {
    name: 'ITE',
    outer: { from: 'rim', medial: 1 },
    tip: { bend: 'first', beyond: 4, leave: 1 },
    kit: [
      { takes: 'cell', part: 'cell-13', rechargeable: 'cell-13-rechargeable', alternatives: ['cell-312'] },
      { takes: 'receiver', sizes: { ...UP_TO_LARGE, 'extra-large': 'receiver-extra-large' } },
      { takes: 'part', part: 'chip' },
      { takes: 'microphones', part: 'microphone-cylinder', least: 2, most: 2 },
      { takes: 'wish', wish: 'pushButton', part: 'push-button' },
      { takes: 'wish', wish: 'volumeWheel', part: 'volume-wheel' },
      { takes: 'wish', wish: 'telecoil', part: 'telecoil' },
      { takes: 'wish', wish: 'radio', part: 'radio' },
    ],
    source: PRACTICE,
  },
];

export const GENERIC_FILE: CatalogueFile = {
  format: 'cavum-catalogue',
  version: 1,
  name: 'generic',
  rules: {
    wall: { value: 0.6, source: `0.5 to 0.8: ${PRACTICE}` },
    faceplate: { value: 0.8, source: PRACTICE },
    gap: { value: 0.1, source: 'scan 0.05 + print 0.05: editable default' },
    partGap: { value: 0.1, source: 'as the gap to the wall: editable default' },
    suspension: { value: 0.25, source: `0.2 to 0.5: ${PRACTICE}` },
    tolerance: { value: 0.1, source: 'scan plus print: editable default' },
  },
  ports: { least: 4, most: 12, tilt: 20, source: PRACTICE },
  receiverClasses: {
    classes: [
      { size: 'small', upTo: 60 },
      { size: 'medium', upTo: 70 },
      { size: 'large', upTo: 80 },
      { size: 'extra-large', upTo: 90 },
    ],
    source: `after the losses that styles are said to serve: ${PRACTICE}; ${MEMORY}`,
  },
  vents: {
    classes: [
      { diameter: 3, upTo: 20 },
      { diameter: 2, upTo: 30 },
      { diameter: 1.5, upTo: 40 },
      { diameter: 1, upTo: 50 },
      { diameter: 0.8, upTo: 130 },
    ],
    source: `${PRACTICE}; 2 mm is the usual compromise (Fulton & Martin 2006, Hearing Journal 59(7))`,
  },
  apart: [
    { between: ['telecoil', 'receiver'], least: 2, source: `the receiver's field disturbs the coil: ${PRACTICE}; ${MEMORY}` },
    { between: ['push-button', 'volume-wheel'], least: 2, source: `room for a finger between them: ${PRACTICE}; ${MEMORY}` },
  ],
  parts: [...CELLS, ...RECEIVERS, ...OTHERS],
  styles: STYLE_ROWS,
};
