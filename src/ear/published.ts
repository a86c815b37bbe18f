/**
 * An ear's sizes beside published ones. Three methods differ by a factor of two (resonance imaging of relaxed ears, computed tomography, moulds
 * that distend the soft part): an impression is held against moulds where there are any, and each row names its method.
 */
import { exp, PI } from '../geometry/trig.ts';
import { type CanalSection, type Ear, nearestSection } from '../model/ear.ts';

export interface PublishedRow {
  /** Stable, for programs. */
  readonly code: 'area-aperture' | 'area-first-bend' | 'area-12' | 'major-aperture' | 'minor-aperture' | 'canal-shown' | 'cavum-depth';
  readonly what: string;
  /** Which length, which section: of this ear's figure. */
  readonly definition: string;
  readonly unit: 'mm' | 'mm²';
  readonly value: number;
  readonly mean: number;
  /** Standard deviation between people, where the source gives one. */
  readonly sd?: number;
  /** Of people who have less, by the normal distribution of mean and sd; 0..100. */
  readonly percentile?: number;
  /** Worth a word outside: mean and two sd either way, rounded, or as the note says. */
  readonly band?: { readonly least?: number; readonly most?: number; readonly note: string };
  readonly method: string;
  readonly source: string;
}

type Figure = Omit<PublishedRow, 'value' | 'percentile'>;

const MOULDS_2020 = 'Voss et al. 2020, JASA 147:3042 (abstract)';
const CT_2023 = 'Voss et al. 2023, Hearing Research, CT of adult ears (abstract)';
const MEMORY = 'Salvinelli et al. 1991, Scand Audiol 20:253; from memory, not seen';

const FIGURES: Readonly<Record<PublishedRow['code'], Figure>> = {
  'area-aperture': {
    code: 'area-aperture',
    what: 'area at the aperture',
    definition: 'section square to the centreline where the canal begins to open into the concha',
    unit: 'mm²',
    mean: 97,
    sd: 24,
    band: { least: 49, most: 145, note: 'CT of adults, mean ± 2 sd' },
    method: 'computed tomography, 66 ears, at the entrance',
    source: CT_2023,
  },
  'area-first-bend': {
    code: 'area-first-bend',
    what: 'area at the first bend',
    definition: "section square to the centreline where the first bend's curvature is greatest",
    unit: 'mm²',
    mean: 63.4,
    sd: 13.5,
    band: { least: 36, most: 90, note: 'moulds of adults, mean ± 2 sd' },
    method: 'silicone moulds, 169 people of 18 to 75 years',
    source: MOULDS_2020,
  },
  'area-12': {
    code: 'area-12',
    what: 'area 12 mm inside the aperture',
    definition: 'section square to the centreline 12 mm along it from the aperture',
    unit: 'mm²',
    mean: 61.6,
    sd: 13.5,
    band: { least: 35, most: 90, note: 'moulds of adults, mean ± 2 sd' },
    method: 'silicone moulds, 169 people of 18 to 75 years',
    source: MOULDS_2020,
  },
  'major-aperture': {
    code: 'major-aperture',
    what: 'largest width of the aperture',
    definition: "diameter of the aperture's section: its two points farthest apart",
    unit: 'mm',
    mean: 9.4,
    method: 'cadaver ears, canal entrance',
    source: MEMORY,
  },
  'minor-aperture': {
    code: 'minor-aperture',
    what: 'least width of the aperture',
    definition: "least distance of two parallel lines that hold the aperture's section",
    unit: 'mm',
    mean: 6.5,
    method: 'cadaver ears, canal entrance',
    source: MEMORY,
  },
  'canal-shown': {
    code: 'canal-shown',
    what: 'canal shown',
    definition: 'along the centreline from the aperture to where the impression ends; the published length goes on to the drum',
    unit: 'mm',
    mean: 25.1,
    band: { most: 25, note: 'longer than the mean canal to the drum' },
    method: 'mean of nine studies of living ears, whose means go from 23 to 28.3',
    source: 'Staab 2016, Otoblock myth part 2',
  },
  'cavum-depth': {
    code: 'cavum-depth',
    what: 'depth of the cavum',
    definition: "from the rim plane to the cavum's floor beside the canal, square to the plane",
    unit: 'mm',
    mean: 12.5,
    band: { least: 9, most: 16.8, note: 'means of several studies of adults' },
    method: 'the middle of several studies, whose methods and means differ',
    source: 'Staab 2017, Human ear concha dimensions part 4',
  },
};

/** Every size of this ear that a published one can be set beside; what the cast does not show is left out. */
export function bandsFor(ear: Ear): PublishedRow[] {
  const aperture = sectionNear(ear.sections, 0);
  const bend = ear.firstBend && sectionNear(ear.sections, ear.firstBend.depth);
  // Nearer to the end the tip's rounding is measured, not the canal.
  const twelve = ear.end.depth > 13 ? sectionNear(ear.sections, 12) : undefined;
  const values: readonly (readonly [PublishedRow['code'], number | undefined])[] = [
    ['area-aperture', aperture?.area],
    ['area-first-bend', bend?.area],
    ['area-12', twelve?.area],
    ['major-aperture', aperture?.major],
    ['minor-aperture', aperture?.minor],
    ['canal-shown', ear.end.depth],
    ['cavum-depth', ear.floor?.depth],
  ];
  return values.flatMap(([code, value]) => (value === undefined ? [] : [rowOf(FIGURES[code], value)]));
}

function rowOf(figure: Figure, value: number): PublishedRow {
  const { mean, sd } = figure;
  return { ...figure, value, ...(sd === undefined ? {} : { percentile: 100 * normalShare((value - mean) / sd) }) };
}

/** The section nearest to a depth, within a millimetre. */
export function sectionNear(sections: readonly CanalSection[], depth: number): CanalSection | undefined {
  const best = nearestSection(sections, depth);
  return best && Math.abs(best.depth - depth) <= 1 ? best : undefined;
}

/** Beyond this many standard deviations the share is 0 or 1 to twelve digits. */
const FARTHEST = 7.5;

/** Share of a standard normal distribution below z, within 1e-12: its series e^(-z^2 / 2) (z + z^3 / 3 + z^5 / 15 + ...), all of one sign. */
export function normalShare(z: number): number {
  if (z <= -FARTHEST) return 0;
  if (z >= FARTHEST) return 1;
  let term = z;
  let sum = z;
  for (let k = 3; Math.abs(term) > 1e-17 * Math.abs(sum); k += 2) {
    term *= (z * z) / k;
    sum += term;
  }
  return 0.5 + (exp((-z * z) / 2) * sum) / Math.sqrt(2 * PI);
}
