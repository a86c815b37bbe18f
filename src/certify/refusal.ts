/** Why a certificate does not hold. Never leaves `certify`. */
export class Refusal extends Error {}

/** @throws Refusal always. */
export function refuse(why: string): never {
  throw new Refusal(why);
}

/** @throws Refusal where the condition fails. */
export function demand(condition: boolean, why: string): asserts condition {
  if (!condition) refuse(why);
}
