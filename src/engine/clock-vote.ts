/**
 * Whether most devices agree on another time than the gateway's. Then it is the gateway's clock that is wrong, and what it
 * would store as times of arrival is worthless.
 * A device has a vote when several readings in a row, sent as they were taken and not from a backlog, lie equally far
 * from their arrival. Devices whose clock was never set (1970) have none, however many they are.
 * Source: our choice of all figures; the tolerance is that of a time from the future.
 */
import type { SensorPlan } from '../core/plan.js';

const STREAK = 3;
const AGREE_MS = 10_000;
const VOTERS_LEAST = 3;
const REMEMBERED_MS = 600_000;

interface Witness {
  offsetMs: number;
  arrivedAt: number;
  streak: number;
}

export class ClockVote {
  readonly #toleranceMs: number;
  readonly #oldestMs: number;
  readonly #witnesses = new Map<string, Witness>();
  /** a person has said that the clock is right although devices were off by this much */
  #trustedMs: number | null = null;

  /** Devices within `toleranceMs` agree with the gateway; one more than `oldestMs` behind has no clock. */
  constructor(toleranceMs: number, oldestMs: number) {
    this.#toleranceMs = toleranceMs;
    this.#oldestMs = oldestMs;
  }

  /** A reading said it was taken at `at`, and came at `receivedAt`. */
  note(sensor: SensorPlan, at: number, receivedAt: number): void {
    const offsetMs = at - receivedAt;
    if (offsetMs < -this.#oldestMs) return;
    const witness = this.#witnesses.get(sensor.key);
    if (witness === undefined) {
      this.#witnesses.set(sensor.key, { offsetMs, arrivedAt: receivedAt, streak: 1 });
      return;
    }
    const isPaced = receivedAt - witness.arrivedAt >= sensor.intervalMs / 2;
    const agrees = Math.abs(offsetMs - witness.offsetMs) <= AGREE_MS;
    if (isPaced) witness.streak = agrees ? witness.streak + 1 : 1;
    else if (!agrees) witness.streak = 0;
    if (isPaced || !agrees) {
      witness.offsetMs = offsetMs;
      witness.arrivedAt = receivedAt;
    }
  }

  /** Why the gateway's clock is doubtful; null: nothing speaks against it, or a person lets it pass. */
  findFault(now: number): string | null {
    const says = this.findDoubt(now);
    return says === null || this.#isTrusted(now) ? null : `${says}: set it, or let the gateway go on with it`;
  }

  /** How far most devices are off; null: they are not. Also when a person lets it pass. */
  findDoubt(now: number): string | null {
    const offsetMs = this.#majority(now);
    if (offsetMs === null || Math.abs(offsetMs) <= this.#toleranceMs) return null;
    const side = offsetMs > 0 ? 'behind' : 'ahead of';
    return `the clock of this machine is ${Math.round(Math.abs(offsetMs) / 1000)} s ${side} most devices`;
  }

  #isTrusted(now: number): boolean {
    const offsetMs = this.#majority(now);
    if (offsetMs === null || this.#trustedMs === null) return false;
    return Math.abs(offsetMs - this.#trustedMs) <= this.#toleranceMs;
  }

  /** The clock was set: what was seen before says nothing any more. */
  clear(): void {
    this.#witnesses.clear();
  }

  /** A person lets the clock pass as it is. */
  trust(now: number): void {
    this.#trustedMs = this.#majority(now);
  }

  /** The offset on which more than half of at least three devices agree; null: there is none. */
  #majority(now: number): number | null {
    const offsets: number[] = [];
    for (const { offsetMs, arrivedAt, streak } of this.#witnesses.values()) {
      if (streak >= STREAK && now - arrivedAt < REMEMBERED_MS) offsets.push(offsetMs);
    }
    if (offsets.length < VOTERS_LEAST) return null;
    offsets.sort((a, b) => a - b);
    const median = offsets[offsets.length >> 1]!;
    const agreeing = offsets.filter((offset) => Math.abs(offset - median) <= AGREE_MS).length;
    return agreeing * 2 > offsets.length ? median : null;
  }
}
