/** How often somebody may be wrong about a password: by address, and by the name that is tried, over five minutes. */

const SPAN_MS = 300_000;
const PER_ADDRESS = 10;
const PER_NAME = 30;
/** Addresses and names that are remembered; the one that was quiet longest makes room. */
const KEYS_MOST = 2_000;

export class LoginLimit {
  readonly #failures = new Map<string, number[]>();

  /** Seconds until another attempt is looked at; 0: now. */
  waitS(name: string, address: string, now: number): number {
    const waits = [[`a ${address}`, PER_ADDRESS] as const, [`n ${name}`, PER_NAME] as const].map(
      ([key, most]) => {
        const recent = this.#recent(key, now);
        return recent.length < most ? 0 : recent[recent.length - most]! + SPAN_MS - now;
      },
    );
    return Math.ceil(Math.max(...waits) / 1000);
  }

  fail(name: string, address: string, now: number): void {
    for (const [key, most] of [
      [`a ${address}`, PER_ADDRESS],
      [`n ${name}`, PER_NAME],
    ] as const) {
      const recent = [...this.#recent(key, now), now].slice(-most);
      this.#failures.delete(key);
      this.#failures.set(key, recent);
    }
    for (const key of this.#failures.keys()) {
      if (this.#failures.size <= KEYS_MOST) break;
      this.#failures.delete(key);
    }
  }

  #recent(key: string, now: number): number[] {
    return (this.#failures.get(key) ?? []).filter((at) => at > now - SPAN_MS);
  }
}
