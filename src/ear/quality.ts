/**
 * What a person should know of an impression before trusting a verdict on it: sizes outside published bands, how finely and
 * how quietly it was scanned, voids and folds on the canal's wall. Findings carry their place.
 */
import type { Ear } from '../model/ear.ts';
import type { Finding } from '../model/scan.ts';
import { dentsOf } from './dents.ts';
import { pointToScan } from './frame.ts';
import { edgeOf, noiseOf } from './grain.ts';
import { bandsFor, type PublishedRow, sectionNear } from './published.ts';
import { tipFaceOf } from './tipface.ts';

/** A canal longer than this from the aperture is unusual, longer than that hardly an impression's, mm (25.1 the mean of moulds, 31.4 of CT). */
const LONG = 25;
const TOO_LONG = 31;

/** Noise from point to point worth a warning, mm: near the tolerance of a verdict. Usual scanners have 0.01 to 0.03 (from memory). */
const NOISY = 0.06;
/** Edges longer than this hide what a verdict turns on, mm. */
const COARSE = 0.8;

/** Findings in the scan's coordinates, the most telling first. */
export function judgeEar(ear: Ear): Finding[] {
  return [...sizes(ear), ...lengths(ear), ...tip(ear), ...dents(ear), ...grain(ear)];
}

/** Areas outside what is usual; where each was measured is where a person should look. They warn, they never change a verdict. */
function sizes(ear: Ear): Finding[] {
  const at: Partial<Record<PublishedRow['code'], number | undefined>> = {
    'area-aperture': 0,
    'area-first-bend': ear.firstBend?.depth,
    'area-12': 12,
  };
  return bandsFor(ear).flatMap(({ code, what, value, band }) => {
    const depth = at[code];
    const section = depth === undefined ? undefined : sectionNear(ear.sections, depth);
    const { least = 0, most = Infinity, note = '' } = band ?? {};
    if (!section || (value >= least && value <= most)) return [];
    const how = value < least ? 'narrow' : 'wide';
    return [
      {
        code: `ear/${how}`,
        level: 'warning' as const,
        text: `A ${how} canal: the ${what} is ${value.toFixed(0)} mm²; ${least} to ${most} are usual (${note}).`,
        at: pointToScan(ear.frame, section.at),
      },
    ];
  });
}

function lengths(ear: Ear): Finding[] {
  const { end, firstBend, secondBend, frame } = ear;
  const at = pointToScan(frame, end.at);
  const shown = end.depth.toFixed(1);
  if (end.depth > LONG) {
    const how = end.depth > TOO_LONG ? 'hardly that of an impression' : 'unusual';
    return [
      {
        code: 'ear/long',
        level: 'warning',
        text: `The canal is ${shown} mm long from the aperture: ${how} (25.1 mm is the mean of moulds, to the drum).`,
        at,
      },
    ];
  }
  if (secondBend) return [];
  const past = firstBend
    ? `ends ${(end.depth - firstBend.depth).toFixed(1)} mm past the first bend, before a second`
    : 'ends before a bend';
  return [
    {
      code: 'ear/short',
      level: 'note',
      text: `The impression shows ${shown} mm of canal and ${past}: styles that need more are not judged.`,
      at,
    },
  ];
}

function tip(ear: Ear): Finding[] {
  const area = tipFaceOf(ear);
  if (area === undefined) return [];
  return [
    {
      code: 'ear/tip-face',
      level: 'note',
      text: `The impression ends in a flat face of ${area.toFixed(0)} mm²: cut off there, or pressed against the stop that it was taken with.`,
      at: pointToScan(ear.frame, ear.end.at),
    },
  ];
}

function dents(ear: Ear): Finding[] {
  return dentsOf(ear).map(({ at, depth, by, wide }) => ({
    code: by < 0 ? 'ear/void' : 'ear/lump',
    level: 'warning' as const,
    text:
      by < 0
        ? `A void or fold on the canal's wall, ${depth.toFixed(1)} mm deep in the canal: a dent of ${(-by).toFixed(2)} mm, ${wide.toFixed(1)} mm across. The ear has more room there than the cast.`
        : `A lump on the canal's wall, ${depth.toFixed(1)} mm deep in the canal: ${by.toFixed(2)} mm high, ${wide.toFixed(1)} mm across. If it is a bubble or debris, the ear has less room there than the cast.`,
    at: pointToScan(ear.frame, at),
  }));
}

function grain(ear: Ear): Finding[] {
  const edge = edgeOf(ear.cast);
  const noise = noiseOf(ear.cast);
  const bad = edge > COARSE || noise > NOISY;
  return [
    {
      code: 'ear/grain',
      level: bad ? 'warning' : 'note',
      text: `Resolution ${edge.toFixed(2)} mm (the middle edge), ${noise.toFixed(3)} mm from point to point${bad ? ': too coarse or too noisy to trust a tenth of a millimetre' : ''}.`,
    },
  ];
}

/** Which ear the shape speaks for, where it contradicts what was said. */
export function sideContradicted(ear: Ear, guess: { readonly side: Ear['frame']['side']; readonly confidence: number }): Finding[] {
  const said = ear.frame.side;
  if (guess.side === said || guess.confidence < SURE) return [];
  return [
    {
      code: 'ear/side',
      level: 'warning',
      text: `Judged as a ${said} ear, but its shape speaks for a ${guess.side} one (${Math.round(100 * guess.confidence)} % sure). Check the side: a wrong one turns the concha upside down.`,
      at: pointToScan(ear.frame, ear.crus?.at ?? ear.aperture.at),
    },
  ];
}

/** Below this a contradiction is not worth a word. */
const SURE = 0.8;
