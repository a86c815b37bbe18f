/**
 * From what an order says to what the instrument must have. Hearing and wishes settle what the order leaves open; what it
 * says outright stands, with a warning where the hearing asks for more. Geometry decides nothing here, and this prescribes nothing.
 */
import type { Audiogram, Need, Order, OrderRequest, ReceiverSize } from '../model/order.ts';
import { RECEIVER_SIZES, WISH_WORDS, WISHES } from '../model/order.ts';
import type { Catalogue } from '../model/parts.ts';
import { GAP, REFERRAL_SIGNS, REFERRAL_SOURCE } from './cautions.ts';
import { DEFAULT_ORDER } from './default.ts';
import { isProfound, nalR, nalRp } from './gain.ts';
import { airBoneGaps, clarkClass, fourFrequencyAverage, lowFrequencyAverage, whoGrade } from './hearing.ts';
import { USUAL_VENT, usableGain, usualResonance, ventFor } from './vent.ts';

type Classes = Pick<Catalogue, 'receiverClasses' | 'vents'>;

export interface Settled {
  /** Whole: every kit follows from it. */
  readonly order: Order;
  readonly needs: readonly Need[];
}

const ORDERED = 'the order';
const PRACTICE = 'common practice, no published source';
const db = (x: number): string => `${Number.isInteger(x) ? x : x.toFixed(1)} dB`;

/** The whole order, and each thing it asks for with its reason. An order that says nothing asks for nothing. */
export function needsOf(said: OrderRequest, catalogue: Classes): Settled {
  const { directional, ...keys } = said;
  const needed = said.hearing && receiverFor(said.hearing, catalogue);
  const receiver = said.receiver ?? needed?.size ?? DEFAULT_ORDER.receiver;
  const microphones = said.microphones === 2 || directional ? 2 : (said.microphones ?? DEFAULT_ORDER.microphones);
  return {
    order: { ...DEFAULT_ORDER, ...keys, receiver, microphones },
    needs: [
      ...(said.hearing ? hearingNotes(said.hearing) : []),
      ...(needed ? receiverNeeds(said.receiver, needed, catalogue.receiverClasses) : []),
      ...ventNeeds(said, catalogue),
      ...wishNeeds(said, microphones),
      ...handling(said),
    ],
  };
}

interface NeededReceiver {
  readonly size: ReceiverSize;
  readonly average: number;
  /** False where no receiver of the list goes so far. */
  readonly enough: boolean;
}

/** The smallest receiver whose class reaches the average loss; the largest listed where none does. */
function receiverFor({ air }: Audiogram, { receiverClasses: { classes } }: Classes): NeededReceiver | undefined {
  const average = fourFrequencyAverage(air);
  if (average === undefined) return undefined;
  const found = classes.find((c) => average <= c.upTo);
  const largest = classes[classes.length - 1];
  return { size: (found ?? largest)?.size ?? 'extra-large', average, enough: found !== undefined };
}

function receiverNeeds(said: ReceiverSize | undefined, needed: NeededReceiver, { classes, source }: Catalogue['receiverClasses']): Need[] {
  const { size, average, enough } = needed;
  const limit = (s: ReceiverSize): string => db(classes.find((c) => c.size === s)?.upTo ?? 0);
  const beyond: Need[] = enough
    ? []
    : [
        {
          code: 'order/receiver-beyond',
          level: 'warning',
          text: `an average loss of ${db(average)} HL is beyond every receiver listed (${limit(size)} HL at most): a custom instrument may not serve it`,
          source,
        },
      ];
  if (said !== undefined && RECEIVER_SIZES.indexOf(said) < RECEIVER_SIZES.indexOf(size)) {
    const text = `the order says a receiver of size ${said}; an average loss of ${db(average)} HL asks for size ${size}`;
    return [...beyond, { code: 'order/receiver-below-need', level: 'warning', text, source }];
  }
  const why = enough
    ? `an average loss of ${db(average)} HL, for which size ${size} is listed (up to ${limit(size)} HL)`
    : 'the largest that is listed';
  const text =
    said === undefined || said === size
      ? `a receiver of size ${size}: ${why}`
      : `a receiver of size ${said}, as the order says; size ${size} would do for ${db(average)} HL`;
  return [...beyond, { code: 'order/receiver', level: 'need', text, source }];
}

function hearingNotes(hearing: Audiogram): Need[] {
  const { air } = hearing;
  const average = fourFrequencyAverage(air);
  if (average === undefined) return [];
  const how = hearing.how === undefined ? '' : ` (${hearing.how})`;
  const gain = isProfound(air) ? nalRp(air) : nalR(air);
  const figures = ([500, 1000, 2000, 4000] as const).map((f) => (gain[f] ?? 0).toFixed(0)).join(', ');
  return [
    {
      code: 'order/hearing',
      level: 'note',
      text: `the average loss of this ear at 0.5, 1, 2 and 4 kHz is ${db(average)} HL${how}: ${whoGrade(average)} by WHO's grades (which take the better ear), ${clarkClass(average)} by Clark's classes`,
      source: 'WHO, World Report on Hearing, 2021, table 1.3; Clark 1981, as asha.org gives it',
    },
    {
      code: 'order/gain',
      level: 'note',
      text: `the gain that ${isProfound(air) ? 'NAL-RP' : 'NAL-R'} reckons at 0.5, 1, 2 and 4 kHz is ${figures} dB`,
      source: isProfound(air) ? 'Byrne, Parkinson & Newall 1991' : 'Byrne & Dillon 1986',
    },
    ...gapWarning(hearing),
    {
      code: 'order/referral',
      level: 'note',
      text: `signs that call for a physician first: ${REFERRAL_SIGNS.map((s) => s.text).join('; ')}. Information: licensed practice decides`,
      source: REFERRAL_SOURCE,
    },
  ];
}

/** The one sign of the referral list that an order shows. */
function gapWarning(hearing: Audiogram): Need[] {
  const gaps = airBoneGaps(hearing);
  if (gaps.length < 3 || gaps.some(({ gap }) => gap < GAP)) return [];
  const text = `the air-bone gap is ${gaps.map(({ frequency, gap }) => `${db(gap)} at ${frequency} Hz`).join(', ')}: a sign that calls for a physician first`;
  return [{ code: 'order/air-bone-gap', level: 'warning', text, source: REFERRAL_SOURCE }];
}

/** The vent that the order says, which must find its course; else, from the hearing, the usual one as a suggestion, which is not placed. */
function ventNeeds({ vent, hearing }: OrderRequest, { vents }: Classes): Need[] {
  const low = hearing && lowFrequencyAverage(hearing.air);
  const usual = low === undefined ? undefined : ventFor(low, vents).diameter;
  const why =
    usual === undefined || low === undefined ? '' : `a vent of ${usual} mm is usual for a loss of ${db(low)} HL at 250 and 500 Hz`;
  const warnings = hearing && (vent ?? usual) ? whistling(hearing.air, vent ?? usual ?? 0) : [];
  if (vent) {
    const compared = why && vent !== usual ? `; ${why}` : '';
    const text = `a vent of ${vent} mm: ${resonanceWords(vent)}${compared}`;
    return [{ code: 'order/vent', level: 'need', text, source: ORDERED }, ...warnings];
  }
  if (usual === undefined) return [];
  const text =
    vent === 0 ? `no vent, as the order says; ${why}` : `${why}; ${resonanceWords(usual)}. It is placed where the order asks for it`;
  return [{ code: 'order/vent', level: 'note', text, source: vents.source }, ...warnings];
}

const resonanceWords = (diameter: number): string =>
  `${USUAL_VENT.length} mm long into ${USUAL_VENT.volume} cm³ it resonates at about ${usualResonance(diameter)} Hz`;

function whistling(air: Audiogram['air'], diameter: number): Need[] {
  const gain = isProfound(air) ? nalRp(air) : nalR(air);
  const asked = Math.max(...([2000, 3000, 4000] as const).map((f) => gain[f] ?? 0));
  const usable = usableGain(diameter);
  if (asked <= usable) return [];
  const text = `with a vent of ${diameter} mm about ${db(usable)} of gain near 2 to 4 kHz are usable before it whistles, without a canceller; ${asked.toFixed(0)} dB are reckoned there`;
  return [{ code: 'order/vent-gain', level: 'warning', text, source: 'editable default, from memory' }];
}

const kebab = (word: string): string => word.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`);

function wishNeeds(said: OrderRequest, microphones: Order['microphones']): Need[] {
  const need = (code: string, text: string): Need => ({ code: `order/${code}`, level: 'need', text, source: ORDERED });
  return [
    ...(microphones === 2
      ? [need('microphones', said.directional ? 'two microphones: directional hearing is wished for' : 'two microphones')]
      : []),
    ...WISHES.filter((wish) => said[wish]).map((wish) => need(kebab(wish), `a ${WISH_WORDS[wish]}`)),
    ...(said.rechargeable ? [need('rechargeable', 'a rechargeable cell')] : []),
  ];
}

function handling({ dexterity, wax, leastVisible }: OrderRequest): Need[] {
  const note = (code: string, text: string): Need => ({ code: `order/${code}`, level: 'note', text, source: PRACTICE });
  return [
    ...(dexterity === 'poor'
      ? [
          note(
            'dexterity',
            'hands that find small things hard: a larger cell, one that is charged in place, and a larger shell are easier to handle',
          ),
        ]
      : []),
    ...(leastVisible
      ? [
          {
            ...note(
              'least-visible',
              'the least visible style is wished for: beside the smallest that fits it is told what each smaller one would take',
            ),
            source: ORDERED,
          },
        ]
      : []),
    ...(wax === 'much' ? [note('wax', 'much wax: the guard at the tip must be easy to change, and a deep tip clogs sooner')] : []),
  ];
}

/** The needs as lines for people; warnings are marked. */
export const needLines = (needs: readonly Need[]): string[] => {
  const marks: Record<Need['level'], string> = { need: '+', note: '·', warning: '!' };
  return needs.map(({ level, text, source }) => `  ${marks[level]} ${text} (${source})`);
};
