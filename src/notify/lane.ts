/**
 * One channel: one message at a time, the oldest that may go first. What the channel cannot take now it gets later, with
 * growing waits; a message that alone is the trouble lets the others pass.
 */
import { waitBeforeRetry } from './backoff.js';
import type { Outgoing } from './notify-state.js';
import type { Outcome } from './settle-delivery.js';

export interface LaneWishes {
  /** messages that the channel still has to get, oldest first */
  queue(): readonly Outgoing[];
  send(message: Outgoing, signal: AbortSignal): Promise<Outcome>;
  /** resolves when the outcome is in the state */
  settle(message: Outgoing, outcome: Outcome): Promise<void>;
  now(): number;
  random(): number;
}

/** Times in ms; null: never yet. */
export interface LaneHealth {
  readonly sent: number;
  readonly failed: number;
  readonly lastSuccessAt: number | null;
  readonly lastErrorAt: number | null;
  readonly lastError: string;
}

interface Trouble {
  attempts: number;
  /** by the clock that nobody sets */
  readyAt: number;
}

export class Lane {
  readonly #wishes: LaneWishes;
  readonly #stopped = new AbortController();
  /** of single messages */
  readonly #troubles = new Map<string, Trouble>();
  #trouble: Trouble = { attempts: 0, readyAt: 0 };
  #working: Promise<void> | null = null;
  /** something came while it worked */
  #isKicked = false;
  #timer: NodeJS.Timeout | null = null;
  #health: LaneHealth = { sent: 0, failed: 0, lastSuccessAt: null, lastErrorAt: null, lastError: '' };

  constructor(wishes: LaneWishes) {
    this.#wishes = wishes;
  }

  get health(): LaneHealth {
    return this.#health;
  }

  /** Looks whether there is something to send. */
  kick(): void {
    this.#isKicked = true;
    if (this.#working !== null || this.#stopped.signal.aborted) return;
    this.#isKicked = false;
    this.#working = this.#work().finally(() => {
      this.#working = null;
      if (this.#isKicked) this.kick();
    });
  }

  /** What is being sent is given up; it counts as not delivered. */
  async stop(): Promise<void> {
    this.#stopped.abort();
    if (this.#timer !== null) clearTimeout(this.#timer);
    await this.#working;
  }

  async #work(): Promise<void> {
    for (;;) {
      const queue = this.#wishes.queue();
      for (const id of this.#troubles.keys())
        if (!queue.some((one) => one.id === id)) this.#troubles.delete(id);
      if (queue.length === 0 || this.#stopped.signal.aborted) return;
      const now = performance.now();
      const next = queue.find(({ id }) => this.#readyAt(id) <= now);
      if (next === undefined) {
        this.#wakeAt(Math.min(...queue.map(({ id }) => this.#readyAt(id))), now);
        return;
      }
      const outcome = await this.#wishes.send(next, this.#stopped.signal);
      if (this.#stopped.signal.aborted && outcome.kind === 'later') return;
      this.#note(next.id, outcome);
      await this.#wishes.settle(next, outcome);
    }
  }

  #readyAt(id: string): number {
    return Math.max(this.#trouble.readyAt, this.#troubles.get(id)?.readyAt ?? 0);
  }

  #note(id: string, outcome: Outcome): void {
    const now = this.#wishes.now();
    if (outcome.kind === 'delivered') {
      this.#trouble = { attempts: 0, readyAt: 0 };
      this.#health = { ...this.#health, sent: this.#health.sent + 1, lastSuccessAt: now };
      if (outcome.later.length > 0) this.#delay(this.#troubleOf(id), null);
      return;
    }
    const failed = this.#health.failed + 1;
    this.#health = { ...this.#health, failed, lastErrorAt: now, lastError: outcome.reason };
    if (outcome.kind === 'later')
      this.#delay(outcome.scope === 'channel' ? this.#trouble : this.#troubleOf(id), outcome.retryAfterMs);
  }

  #troubleOf(id: string): Trouble {
    let trouble = this.#troubles.get(id);
    if (trouble === undefined) {
      trouble = { attempts: 0, readyAt: 0 };
      this.#troubles.set(id, trouble);
    }
    return trouble;
  }

  #delay(trouble: Trouble, askedMs: number | null): void {
    trouble.attempts += 1;
    trouble.readyAt = performance.now() + waitBeforeRetry(trouble.attempts, askedMs, this.#wishes.random());
  }

  #wakeAt(at: number, now: number): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.kick(), Math.max(1, Math.ceil(at - now)));
  }
}
