/** How fast a counter rises, from samples that somebody takes now and then. */

const KEPT_MS = 660_000;

export class RateMeter {
  /** oldest first */
  #samples: { readonly at: number; readonly count: number }[] = [];

  /** `at`: monotonic, ms. */
  add(at: number, count: number): void {
    this.#samples.push({ at, count });
    while (this.#samples.length > 2 && this.#samples[0]!.at < at - KEPT_MS) this.#samples.shift();
  }

  /** Over the last `spanMs` before the last sample, or what there is of it; null: a single sample says nothing. */
  perSecond(spanMs: number): number | null {
    const last = this.#samples.at(-1);
    const first = this.#samples.find(({ at }) => at >= (last?.at ?? 0) - spanMs);
    if (last === undefined || first === undefined || first === last) return null;
    return (1000 * (last.count - first.count)) / (last.at - first.at);
  }
}
