/**
 * The sizes of a synthetic ear, and how they are drawn.
 *
 * Every size is drawn from a normal distribution (mean, sd), reflected at plausible limits. Three hidden numbers tie
 * them together: a person's size, age (area grows with it), and how much a left ear shares with its right one.
 */
import { type Random, seeded } from '../geometry/random.ts';
import { radians } from '../geometry/trig.ts';
import type { Side } from '../model/ear.ts';
import { type Variant, variantSizes } from './variants.ts';

/** Lengths mm, areas mm2, angles radians. */
export interface EarParameters {
  readonly side: Side;
  /** Years. */
  readonly age: number;
  /** Section at the aperture, square to the canal's axis (5 % of it are the beginning of the opening). */
  readonly areaAperture: number;
  readonly areaFirstBend: number;
  /** Share of the first bend's area that is lost per mm medially of it. */
  readonly taper: number;
  /** Major to minor axis of the section's ellipse. */
  readonly ratioAperture: number;
  readonly ratioBend: number;
  /** From superior towards posterior: the major axis at the aperture, and how far it has turned at the second bend. */
  readonly majorTilt: number;
  readonly majorTurn: number;
  /** Depths: arc length from the aperture. Angles: how far the centreline turns. */
  readonly firstBendDepth: number;
  readonly firstBendAngle: number;
  readonly secondBendDepth: number;
  readonly secondBendAngle: number;
  /** Where the first bend turns the canal: 0 anterior, pi/2 superior, pi posterior. */
  readonly bendDirection: number;
  /** By how much the second bend misses being exactly opposed to the first. */
  readonly bendTwist: number;
  /** How far the cast reaches past the second bend; negative: it ends before. */
  readonly pastSecondBend: number;
  /** The end face: its tilt against a square cut. */
  readonly tipTilt: number;
  /** Notch to crus. */
  readonly cavumHeight: number;
  /** Tragus to antihelix. */
  readonly cavumWidth: number;
  /** Rim plane to floor. */
  readonly cavumDepth: number;
  readonly cymbaHeight: number;
  /** Thickness of the crus's ridge. */
  readonly crusWidth: number;
  /** How far back the crus reaches: share of the cavum's width. */
  readonly crusReach: number;
  readonly notchWidth: number;
  /** How far the tragus stands into the concha's opening. */
  readonly tragusOverhang: number;
  /** The helix hook: how far it reaches on anteriorly below the helix, and how much it rises. */
  readonly hookLength: number;
  readonly hookRise: number;
  /** Turn of the rim plane's normal from the canal axis: towards anterior, towards superior. */
  readonly rimTurn: number;
  readonly rimLean: number;
  /** How far the flange spreads over the rim. */
  readonly overflow: number;
  /** Height of the ragged cut over the rim plane. */
  readonly flangeHeight: number;
  /** Unevenness of that cut, sd. */
  readonly raggedness: number;
  /** Scanner noise along the surface normal, sd. */
  readonly noise: number;
  /** Broad unevenness of skin and material, sd. */
  readonly waviness: number;
  /** How many voids and trapped bubbles, fold lines, holes in the scan. */
  readonly bubbles: number;
  readonly seams: number;
  readonly holes: number;
  readonly holeRadius: number;
  /** Grid step of the polygonisation. */
  readonly resolution: number;
  /** Turned and moved at random in the scan; otherwise the scan frame is the ear frame (left ears: mirrored in x). */
  readonly tumbled: boolean;
}

export type DrawnKey = Exclude<
  keyof EarParameters,
  'side' | 'age' | 'bubbles' | 'seams' | 'holes' | 'holeRadius' | 'resolution' | 'tumbled' | 'raggedness' | 'noise' | 'waviness'
>;

export interface Distribution {
  readonly mean: number;
  readonly sd: number;
  readonly least: number;
  readonly most: number;
  /** Correlation with the person's size and with age. */
  readonly size: number;
  readonly age: number;
  readonly source: string;
}

const d = (mean: number, sd: number, least: number, most: number, size: number, age: number, source: string): Distribution => ({
  mean,
  sd,
  least,
  most,
  size,
  age,
  source,
});
const deg = (mean: number, sd: number, least: number, most: number, source: string): Distribution =>
  d(radians(mean), radians(sd), radians(least), radians(most), 0, 0, source);

const VOSS_CT = 'CT, entrance, 66 ears: Voss et al. 2023, Hearing Research (abstract)';
const VOSS_MOULD = 'silicone moulds, 169 people: Voss et al. 2020, JASA 147:3042 (abstract)';
const CIPIC = 'Algazi et al. 2001, CIPIC HRTF database, 43 people x 2 ears; the numbers from memory';
const STAAB = 'concha depth, means of several adult studies 9-16.8: Staab 2017, Human ear concha dimensions part 4; spread ours';
const MEMORY = 'from memory; no numeric source found';
const OURS = 'chosen to look like a cast; no source';

/** What each size is drawn from. Definitions beside the fields of `EarParameters`. */
export const DISTRIBUTIONS: Readonly<Record<DrawnKey, Distribution>> = {
  areaAperture: d(97, 24, 55, 150, 0.5, 0.35, VOSS_CT),
  areaFirstBend: d(63.4, 13.5, 34, 93, 0.6, 0.4, VOSS_MOULD),
  // 63.4 at the first bend and 61.6 at 12 mm, the bend at 10 on the average: 0.0142 a mm.
  taper: d(0.0142, 0.005, 0.002, 0.028, 0, 0, `${VOSS_MOULD}, derived`),
  ratioAperture: d(1.42, 0.12, 1.15, 1.75, 0, 0, '9.4 x 6.5: Salvinelli et al. 1991; from memory'),
  ratioBend: d(1.5, 0.18, 1.15, 2.0, 0, -0.2, `${MEMORY}; below the 2.1 of MRI, as moulding rounds the canal`),
  majorTilt: deg(8, 8, -12, 30, OURS),
  majorTurn: deg(22, 12, -5, 50, OURS),
  firstBendDepth: d(10, 0.9, 8, 12, 0.3, 0, MEMORY),
  firstBendAngle: deg(30, 8, 15, 50, MEMORY),
  secondBendDepth: d(16, 0.9, 14, 18, 0.4, 0, MEMORY),
  secondBendAngle: deg(28, 8, 15, 50, MEMORY),
  bendDirection: deg(188, 14, 155, 222, 'forward, back, forward: Sweetow et al. 2014; spread ours'),
  bendTwist: deg(0, 14, -32, 32, OURS),
  pastSecondBend: d(4, 0.9, 2, 6, 0, 0, MEMORY),
  tipTilt: deg(0, 6, -15, 15, OURS),
  cavumHeight: d(19.1, 1.8, 15, 23.2, 0.6, 0.1, CIPIC),
  cavumWidth: d(15.8, 2.8, 11.5, 21.5, 0.5, 0.1, CIPIC),
  // Not the 10.2 of the HRTF measurements: with it the usual cell on edge finds no depth in the concha of most ears, which the trade's
  // daily practice contradicts. The middle of the range of means that several studies of adult conchas found.
  cavumDepth: d(12.5, 1.8, 9, 16.8, 0.5, 0, STAAB),
  cymbaHeight: d(6.8, 1.2, 4.4, 9.4, 0.5, 0, CIPIC),
  crusWidth: d(3.4, 0.5, 2.4, 4.6, 0.2, 0, OURS),
  crusReach: d(0.62, 0.07, 0.45, 0.78, 0, 0, OURS),
  notchWidth: d(5.3, 1.4, 3, 8.2, 0.3, 0, CIPIC),
  tragusOverhang: d(2.2, 0.6, 0.9, 3.6, 0, 0, OURS),
  hookLength: d(4.2, 1, 2, 6.5, 0.2, 0, OURS),
  hookRise: d(0.5, 0.8, -1.3, 2.3, 0, 0, OURS),
  rimTurn: deg(16, 5, 4, 28, OURS),
  rimLean: deg(3, 4, -6, 12, OURS),
  overflow: d(2.2, 0.6, 1, 3.8, 0, 0, OURS),
  flangeHeight: d(3, 0.4, 2.2, 4, 0, 0, OURS),
};

/** Area at `depth` in mm2 by the law of these parameters (medially of the first bend). */
export const areaBeyondBend = (p: Pick<EarParameters, 'areaFirstBend' | 'taper' | 'firstBendDepth'>, depth: number): number =>
  p.areaFirstBend * (1 - p.taper * (depth - p.firstBendDepth));

const KEYS = Object.keys(DISTRIBUTIONS) as DrawnKey[];
/** Share of what is a person's own, not explained by size and age, that both ears have in common: "left and right of one person are close" (Voss 2023). */
const ALIKE = 0.92;

const reflected = (x: number, least: number, most: number): number => {
  const back = x > most ? 2 * most - x : x < least ? 2 * least - x : x;
  return Math.max(least, Math.min(most, back));
};

/** Standard deviates of one person: what both ears share. */
interface Person {
  readonly age: number;
  readonly size: number;
  readonly years: number;
  readonly own: Readonly<Record<DrawnKey, number>>;
}

function drawPerson(random: Random): Person {
  // Uniform from 18 to 88 years; standardised by that distribution's own mean and sd.
  const age = random.between(18, 88);
  const size = random.normal();
  const own = Object.fromEntries(KEYS.map((k) => [k, random.normal()])) as Record<DrawnKey, number>;
  return { age: Math.round(age), size, years: (age - 53) / 20.207, own };
}

function drawSide(person: Person, side: Side, random: Random): EarParameters {
  const drawn = Object.fromEntries(
    KEYS.map((k) => {
      const { mean, sd, least, most, size, age } = DISTRIBUTIONS[k];
      const own = Math.sqrt(ALIKE) * person.own[k] + Math.sqrt(1 - ALIKE) * random.normal();
      const z = size * person.size + age * person.years + Math.sqrt(1 - size * size - age * age) * own;
      return [k, reflected(mean + sd * z, least, most)];
    }),
  ) as Record<DrawnKey, number>;
  return plausible({
    side,
    age: person.age,
    ...drawn,
    raggedness: random.between(0.15, 0.4),
    noise: random.between(0.01, 0.03),
    waviness: random.between(0.02, 0.06),
    bubbles: random.below(6),
    seams: random.below(3),
    holes: 0,
    holeRadius: 0.8,
    resolution: 0.32,
    tumbled: true,
  });
}

/** Sizes drawn one by one may not go together: the canal always narrows from the aperture to its first bend. */
function plausible(p: EarParameters): EarParameters {
  return { ...p, areaAperture: Math.max(p.areaAperture, 1.12 * p.areaFirstBend) };
}

/**
 * One ear of a person of their own; `overrides` replace what was drawn. The side is drawn too unless given. `variant`: beyond the normal, by name;
 * without it the draw follows the published sizes.
 */
export function drawEar(seed: number, overrides: Partial<EarParameters> = {}, variant?: Variant): EarParameters {
  const random = seeded(seed, 11);
  const person = drawPerson(random);
  const side: Side = random.next() < 0.5 ? 'left' : 'right';
  return { ...drawSide(person, side, random.fork(1)), ...(variant ? variantSizes(variant, seed) : {}), ...overrides };
}

/** Both ears of one person: alike, never equal. `overrides` go to both. */
export function drawPair(
  seed: number,
  overrides: Partial<EarParameters> = {},
): { readonly left: EarParameters; readonly right: EarParameters } {
  const random = seeded(seed, 11);
  const person = drawPerson(random);
  random.next();
  return {
    left: { ...drawSide(person, 'left', random.fork(1)), ...overrides },
    right: { ...drawSide(person, 'right', random.fork(2)), ...overrides },
  };
}
