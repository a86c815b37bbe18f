/**
 * A refusal: what was wrong, where, and what to do next. Thrown by a stage, shown beside the thing concerned.
 * Anything else that is thrown is a bug and keeps its stack.
 */
export class Fault extends Error {
  override readonly name = 'Fault';
  /** Stable, for programs: "scan/truncated", "order/unknown-key" ... */
  readonly code: string;
  /** For people: what was found, with numbers. */
  readonly found: string;
  /** Where: a line, a byte, a path in a JSON file, a place on the cast. */
  readonly where: string;
  /** What to do next. */
  readonly next: string;
  /** Where one word of the user's would settle it (a unit, a side): the words to choose from. */
  readonly choices: readonly string[];
  constructor(code: string, found: string, where: string, next: string, choices: readonly string[] = []) {
    super(`${found}${where ? ` (${where})` : ''}. ${next}`);
    this.code = code;
    this.found = found;
    this.where = where;
    this.next = next;
    this.choices = choices;
  }
}
