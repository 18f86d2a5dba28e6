/** Time that passes when a test says so. */
import type { ForwardClock } from '../../src/forward/clock.js';

export class VirtualClock implements ForwardClock {
  #now: number;
  #steady = 1_000;
  #timers: { at: number; call: () => void }[] = [];

  constructor(start: number) {
    this.#now = start;
  }

  readonly now = (): number => this.#now;

  /** In parts of a millisecond, as that of the machine; it never falls. */
  readonly steady = (): number => this.#steady + (this.#steady % 7) / 16;

  /** Somebody sets the clock; no time passes. */
  setWall(now: number): void {
    this.#now = now;
  }

  readonly after = (ms: number, call: () => void): (() => void) => {
    const timer = { at: this.#steady + ms, call };
    this.#timers.push(timer);
    return () => {
      this.#timers = this.#timers.filter((one) => one !== timer);
    };
  };

  /** One step: the clock stands `ms` later, and what is due by then is called, once. */
  async jump(ms: number): Promise<void> {
    this.#now += ms;
    this.#steady += ms;
    const due = this.#timers.filter(({ at }) => at <= this.#steady);
    this.#timers = this.#timers.filter((timer) => !due.includes(timer));
    for (const { call } of due.sort((a, b) => a.at - b.at)) call();
    await this.settle();
  }

  /** In small steps. */
  async pass(ms: number, stepMs = 100): Promise<void> {
    for (let passed = 0; passed < ms; passed += stepMs) await this.jump(Math.min(stepMs, ms - passed));
  }

  /** Whatever can go on without time passing, does. */
  async settle(): Promise<void> {
    for (let turn = 0; turn < 8; turn++) await new Promise((resolve) => setImmediate(resolve));
  }
}
