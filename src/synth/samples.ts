/**
 * The sample scans that come with Cavum: eight casts from "Quince Bay Shell Workshop", a lab that does not exist, by
 * case code. Each teaches one thing. Made by the recipes below, byte for byte.
 */

import { radians } from '../geometry/trig.ts';
import type { Side } from '../model/ear.ts';
import { makeEar } from './make.ts';
import { drawEar, drawPair, type EarParameters } from './parameters.ts';
import { encodeStl } from './stl.ts';

export interface SampleEntry {
  readonly file: string;
  readonly side: Side;
  readonly title: string;
  readonly teaches: string;
}

export interface SampleFile {
  readonly name: string;
  readonly bytes: Uint8Array;
}

interface Recipe {
  readonly entry: SampleEntry;
  readonly seed: number;
  readonly parameters: () => EarParameters;
}

const RESOLUTION = 0.3;

const recipe = (
  code: string,
  side: Side,
  word: string,
  title: string,
  teaches: string,
  seed: number,
  own: Partial<EarParameters>,
): Recipe => ({
  entry: { file: `${code}-${side}-${word}.stl`, side, title, teaches },
  seed,
  parameters: () => drawEar(seed, { resolution: RESOLUTION, ...own, side }),
});

const twin = (side: Side, seed: number, teaches: string): Recipe => ({
  entry: { file: `qb-107-${side}-pair.stl`, side, title: `One person, ${side} ear`, teaches },
  seed: seed + (side === 'left' ? 1 : 2),
  parameters: () => drawPair(seed, { resolution: RESOLUTION })[side],
});

export const SAMPLES: readonly Recipe[] = [
  recipe('qb-101', 'right', 'wide-straight', 'Wide, nearly straight canal', 'The smallest style finds room here.', 101, {
    areaAperture: 138,
    areaFirstBend: 92,
    taper: 0.004,
    ratioAperture: 1.36,
    ratioBend: 1.36,
    majorTurn: radians(8),
    firstBendDepth: 10.5,
    firstBendAngle: radians(16),
    secondBendDepth: 17.6,
    secondBendAngle: radians(15),
    pastSecondBend: 5,
    cavumHeight: 20.5,
    cavumWidth: 17.5,
    cavumDepth: 13.4,
  }),
  recipe('qb-102', 'left', 'average', 'Average canal', 'Everything near the published means: where most ears stand.', 102, {
    areaAperture: 97,
    areaFirstBend: 63.4,
    firstBendDepth: 10,
    firstBendAngle: radians(30),
    secondBendDepth: 16,
    secondBendAngle: radians(28),
    pastSecondBend: 4,
    cavumHeight: 19.1,
    cavumWidth: 15.8,
    cavumDepth: 12.5,
    cymbaHeight: 6.8,
    notchWidth: 5.3,
  }),
  recipe('qb-103', 'right', 'narrow', 'Narrow, flat canal', 'A cell on edge does not pass the canal: deep styles are out.', 103, {
    areaAperture: 52,
    areaFirstBend: 35,
    ratioAperture: 1.6,
    ratioBend: 1.7,
    pastSecondBend: 4,
  }),
  recipe('qb-104', 'left', 'sharp-bends', 'Sharp bends', 'Room enough by area, yet rigid parts meet the bends.', 104, {
    areaAperture: 96,
    areaFirstBend: 60,
    ratioBend: 1.6,
    firstBendDepth: 9,
    firstBendAngle: radians(48),
    secondBendDepth: 15.5,
    secondBendAngle: radians(46),
    pastSecondBend: 4.5,
  }),
  recipe(
    'qb-105',
    'right',
    'short',
    'Impression too short',
    'It ends before the second bend: the deep styles cannot be judged, the others can.',
    105,
    {
      firstBendDepth: 8.8,
      secondBendDepth: 17,
      pastSecondBend: -2.2,
    },
  ),
  recipe('qb-106', 'left', 'ragged', 'Ragged scan with holes', 'Noise, bubbles, folds and holes: what is repaired is said.', 106, {
    noise: 0.03,
    waviness: 0.09,
    bubbles: 14,
    seams: 4,
    holes: 4,
    raggedness: 0.5,
  }),
  twin('left', 107, 'Compare with the right ear of the same person.'),
  twin('right', 107, 'Compare with the left ear of the same person.'),
];

/** The scan and its truth, as files. */
export function makeSample({ entry, seed, parameters }: Recipe): SampleFile[] {
  const { mesh, truth } = makeEar(parameters(), seed);
  const text = new TextEncoder().encode(`${JSON.stringify(truth, undefined, 1)}\n`);
  return [
    { name: entry.file, bytes: encodeStl(mesh) },
    { name: entry.file.replace(/\.stl$/, '.truth.json'), bytes: text },
  ];
}

/** index.json and the folder's one-line README. */
export function sampleIndex(): SampleFile[] {
  const text = new TextEncoder();
  return [
    {
      name: 'index.json',
      bytes: text.encode(
        `${JSON.stringify(
          SAMPLES.map((s) => s.entry),
          undefined,
          2,
        )}\n`,
      ),
    },
    {
      name: 'README.md',
      bytes: text.encode(
        'Eight synthetic ear impressions (binary STL, mm) of an invented lab, "Quince Bay Shell Workshop", each with its truth; made by `src/synth/samples.ts`.\n',
      ),
    },
  ];
}

/** Every file of the folder, one after the other (about 25 MB together). */
export function* sampleFiles(): Generator<SampleFile> {
  for (const sample of SAMPLES) yield* makeSample(sample);
  yield* sampleIndex();
}
