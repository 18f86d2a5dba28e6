/** A sink in memory, for tests of the forwarder and of the suite itself: a receiver that keeps the highest revision. */
import type { Sent, Sink, SinkRecord } from '../../src/forward/sink.js';
import { waitFor, WALL_CLOCK, type ForwardClock } from '../../src/forward/clock.js';
import type { Held } from './sink-contract.js';

export class MemoryReceiver {
  readonly rows = new Map<string, SinkRecord>();
  /** records that came, doubles included */
  count = 0;
  isDead = false;
  /** it answers nothing, and its connection stays */
  isStalled = false;
  /** what it needs for each record, ms */
  recordMs = 0;
  /** keys that it never takes */
  readonly poison = new Set<string>();
  /** whether it says which record it refuses */
  namesIndex = false;
  /** calls that may be under way at a time */
  callsAtOnce = 1;
  /** holds up the answer to a batch */
  hold: (records: readonly SinkRecord[], signal: AbortSignal) => Promise<void> = () => Promise.resolve();
  /** called before a batch is taken */
  onBatch: (records: readonly SinkRecord[]) => void = () => undefined;

  take(records: readonly SinkRecord[]): Sent {
    if (this.isDead) return { outcome: 'later', reason: 'the receiver is dead', retryAfterMs: null };
    const index = records.findIndex(({ key }) => this.poison.has(key));
    if (index >= 0) return { outcome: 'refused', reason: 'poison', index: this.namesIndex ? index : null };
    this.onBatch(records);
    for (const record of records) {
      const key = `${record.content.stream} ${record.key}`;
      const before = this.rows.get(key);
      this.count += 1;
      if (before === undefined || before.revision < record.revision) this.rows.set(key, record);
    }
    return { outcome: 'taken' };
  }

  held(): Held[] {
    return [...this.rows.values()]
      .filter(({ content }) => content.row !== null)
      .map(({ content, key, revision }) => ({ stream: content.stream, key, revision }));
  }
}

export function openMemorySink(
  receiver: MemoryReceiver,
  recordsMost = 500,
  clock: ForwardClock = WALL_CLOCK,
): Sink {
  let isOpen = false;
  const later = (reason: string): Sent => ({ outcome: 'later', reason, retryAfterMs: null });
  return {
    recordsMost,
    callsAtOnce: receiver.callsAtOnce,
    open: () => {
      if (receiver.isDead) return Promise.reject(new Error('the receiver is dead'));
      isOpen = true;
      return Promise.resolve();
    },
    send: async (records, signal) => {
      if (!isOpen || signal.aborted) return later('no connection');
      if (receiver.isStalled) {
        await new Promise((resolve) => signal.addEventListener('abort', resolve, { once: true }));
        return later('no answer within the deadline');
      }
      if (receiver.recordMs > 0) await waitFor(clock, receiver.recordMs * records.length, signal);
      else await receiver.hold(records, signal);
      if (signal.aborted) return later('no answer within the deadline');
      return receiver.take(records);
    },
    close: () => {
      isOpen = false;
      return Promise.resolve();
    },
  };
}
