/**
 * How much of what is refused is kept. Every refusal is acknowledged and counted; a noisy client must not fill the disk
 * with the evidence. A bucket: a burst is kept whole, a stream is sampled.
 */

export interface Rejection {
  readonly at: number;
  readonly reason: string;
  readonly topic: string;
  readonly client: string;
  /** bytes of the payload, of which `firstBytes` are kept */
  readonly size: number;
  readonly firstBytes: Uint8Array;
}

const FIRST_BYTES_MAX = 128;
const BURST_ROWS = 5_000;
const ROWS_PER_S = 1;

export function makeRejection(
  at: number,
  reason: string,
  topic: string,
  client: string,
  payload: Uint8Array,
): Rejection {
  const firstBytes = Uint8Array.from(payload.subarray(0, FIRST_BYTES_MAX));
  return { at, reason, topic, client, size: payload.length, firstBytes };
}

export class QuarantineBudget {
  #tokens = BURST_ROWS;
  #filledAt = 0;
  /** refused since the start, and of these not kept */
  refused = 0;
  leftOut = 0;

  /** Whether the next rejection is kept. `now` in ms by the gateway's clock. */
  spend(now: number): boolean {
    this.refused += 1;
    if (now > this.#filledAt) {
      const filled = this.#filledAt === 0 ? 0 : ((now - this.#filledAt) / 1000) * ROWS_PER_S;
      this.#tokens = Math.min(BURST_ROWS, this.#tokens + filled);
      this.#filledAt = now;
    }
    if (this.#tokens < 1) {
      this.leftOut += 1;
      return false;
    }
    this.#tokens -= 1;
    return true;
  }
}
