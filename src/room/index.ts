/**
 * Room: how far is everything from the cast's surface, asked fast (a field) and exactly (a tree).
 */
import type { Body } from '../model/fit.ts';
import type { Rules } from '../model/parts.ts';
import type { CastField } from './field.ts';
import { Room } from './room.ts';

export { posedSolids, type Solids, solidsOf } from './convex.ts';
export { type CastField, FIELD_STEP, measureCast } from './field.ts';
export { pairGap } from './pair.ts';
export { type Border, Room } from './room.ts';

/** The room of one body: cuts are planes, so this costs a few milliseconds whatever the field cost. */
export const carveRoom = (field: CastField, body: Body, rules: Rules): Room => new Room(field, body, rules);
