/**
 * What goes into a shell as one: each free or tip part by itself, and all that the faceplate carries together.
 */
import { compose } from '../geometry/rotation.ts';
import type { Pose, Vec3 } from '../geometry/vec.ts';
import type { Kit, Part, Primitive } from '../model/parts.ts';

export interface Unit {
  /** Ids of its parts and their poses in the arrangement. */
  readonly parts: readonly string[];
  readonly finals: readonly Pose<'ear'>[];
  /** Seated at the faceplate: its plate goes with it. */
  readonly plate: boolean;
  /** Grown into the shell: it is in from the first, and the faceplate has an opening for it. */
  readonly grown: boolean;
  /** All its solids where they stand, in the ear frame: a part whose own frame is the ear's. */
  readonly whole: Part;
}

/**
 * The units of an arrangement: the faceplate's first (where it carries anything), then the others in the kit's order.
 * `carried`: parts that are not seated at the faceplate but go in with it, where they are.
 */
export function unitsOf(kit: Kit, poses: readonly Pose<'ear'>[], carried: readonly string[] = []): Unit[] {
  const placed = kit.parts.map((part, k) => ({ part, pose: poses[k] as Pose<'ear'> }));
  const seats = (p: Part): boolean => p.seat.at === 'faceplate';
  // Its own parts first: the first tells where the plate is.
  const own = placed.filter((p) => seats(p.part));
  const seated = own.length === 0 ? own : [...own, ...placed.filter((p) => carried.includes(p.part.id))];
  const others = placed.filter((p) => !seated.includes(p));
  return [...(seated.length > 0 ? [seated] : []), ...others.map((p) => [p])].map((group) => ({
    parts: group.map((p) => p.part.id),
    finals: group.map((p) => p.pose),
    plate: group[0]?.part.seat.at === 'faceplate',
    grown: group[0]?.part.seat.at === 'shell',
    whole: wholeOf(group),
  }));
}

function wholeOf(group: readonly { readonly part: Part; readonly pose: Pose<'ear'> }[]): Part {
  const primitives = group.flatMap(({ part, pose }) =>
    part.primitives
      .filter((p) => p.kind === 'solid')
      .map((p): Primitive => {
        const { position, quaternion } = compose(pose, p);
        return { ...p, position: [...position] as unknown as Vec3, quaternion };
      }),
  );
  const first = (group[0] as (typeof group)[number]).part;
  return { ...first, id: group.map((g) => g.part.id).join('+'), primitives, seat: { at: 'free' }, margin: 0 };
}

/** Where a unit's parts stand once the ear frame that it was built in has been moved to `moved`. */
export const partsAt = (unit: Unit, moved: Pose<'ear'>): Pose<'ear'>[] => unit.finals.map((final) => compose(moved, final));
