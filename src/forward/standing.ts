/** How a sink stands, for the alarm that it is behind: for how long new records wait, and when some would be given up. */
import type { SinkStanding } from '../core/facts.js';
import type { OutboxReader } from '../store/outbox-reader.js';
import type { ForwardClock } from './clock.js';
import { openRanges } from './cursor.js';
import { ENTRY_BYTES, type ExpiryLimits } from './expiry.js';
import type { Lane } from './lane.js';
import type { SinkBook } from './sink-book.js';

const DAY_MS = 86_400_000;
/** What waits is looked at so often, and its growth judged over so many looks. Our choice: ten minutes. */
const SAMPLE_MS = 10_000;
const SAMPLES = 60;
/** Less says nothing of a growth. */
const GROWTH_LEAST_MS = 60_000;

export class StandingWatch {
  readonly #samples: { readonly steadyAt: number; readonly waiting: number }[] = [];

  constructor(
    private readonly book: SinkBook,
    private readonly outbox: OutboxReader,
    private readonly limits: ExpiryLimits,
    private readonly clock: Pick<ForwardClock, 'now' | 'steady'>,
  ) {}

  describe({ tally, work }: Lane): SinkStanding {
    const { live, late } = work.count();
    const waiting = live + late;
    this.#sample(waiting);
    const isFailing = tally.failingSince !== null;
    const isIdle = waiting === 0;
    // a receiver that is there and takes nothing has the new records put behind with each attempt: since when it fails counts
    const behindMs = Math.max(work.liveLagMs(this.clock.now()), tally.failingForMs());
    return {
      ...{
        sink: this.book.name,
        lagMs: isIdle ? 0 : Math.floor(behindMs),
        waiting,
        lastError: isFailing ? tally.lastError : '',
      },
      isTaking: !isFailing && (isIdle || tally.lastSuccessAt !== null),
      losesAt: isIdle ? null : this.#foreseeLoss(waiting),
    };
  }

  #sample(waiting: number): void {
    const steadyAt = this.clock.steady();
    const last = this.#samples.at(-1);
    if (last !== undefined && steadyAt - last.steadyAt < SAMPLE_MS) return;
    this.#samples.push({ steadyAt, waiting });
    if (this.#samples.length > SAMPLES) this.#samples.shift();
  }

  /** By age, or by bytes if what waits goes on growing as it did; ms. */
  #foreseeLoss(waiting: number): number | null {
    const now = this.clock.now();
    const oldest = this.#oldestAt();
    const byAge = oldest === null ? Infinity : oldest + this.limits.ageDaysMax * DAY_MS;
    const room = this.limits.backlogBytesMax / ENTRY_BYTES - waiting;
    const growth = this.#growthPerMs(waiting);
    const byBytes = room <= 0 ? now : growth > 0 ? now + room / growth : Infinity;
    const first = Math.min(byAge, byBytes);
    return Number.isFinite(first) ? Math.round(first) : null;
  }

  #growthPerMs(waiting: number): number {
    const first = this.#samples[0]!;
    const ms = this.clock.steady() - first.steadyAt;
    return ms < GROWTH_LEAST_MS ? 0 : (waiting - first.waiting) / ms;
  }

  /** When the oldest entry that waits was entered, ms; null: none does. */
  #oldestAt(): number | null {
    const heads = this.outbox.heads();
    const times = this.book.codes.flatMap((code) => {
      const [first] = openRanges(this.book.cursor(code), heads.get(code) ?? 0);
      const at = first === undefined ? null : this.outbox.firstAt(code, ...first);
      return at === null ? [] : [at];
    });
    return times.length === 0 ? null : Math.min(...times);
  }
}
