/**
 * Topics and client ids as small numbers, so that a name crosses to the engine's thread once. The table is bounded: when
 * it is full it starts anew, and says so, at the beginning of a batch.
 */
export class NameTable {
  /** rises when numbers given before are void */
  epoch = 0;
  readonly #numbers = new Map<string, number>();
  #fresh: string[] = [];
  #isReset = false;
  readonly #namesMax: number;

  constructor(namesMax: number) {
    this.#namesMax = namesMax;
  }

  numberOf(name: string): number {
    let number = this.#numbers.get(name);
    if (number === undefined) {
      number = this.#numbers.size;
      this.#numbers.set(name, number);
      this.#fresh.push(name);
    }
    return number;
  }

  /** At the beginning of a batch: forgets everything when the table is full. */
  tidy(): void {
    if (this.#numbers.size >= this.#namesMax) this.forget();
  }

  /** Another engine begins with an empty table. */
  forget(): void {
    this.#numbers.clear();
    this.#fresh = [];
    this.#isReset = true;
    this.epoch += 1;
  }

  /** Names that are new since the last call, in the order of their numbers; `reset`: the numbers start at 0 again. */
  takeFresh(): { names: string[]; reset: boolean } {
    const taken = { names: this.#fresh, reset: this.#isReset };
    this.#fresh = [];
    this.#isReset = false;
    return taken;
  }
}
