/**
 * Numbers what is told live and keeps a while of it, so that readers who were away or are slow go on where they were. Of rates
 * only the last of each sensor is kept: the others are of no use to anybody who comes late. Everything else stays in a ring
 * of bounded length; what the ring has lost is in the store.
 */
import type { ApiDeps, LiveNews } from './deps.js';
import { describeAgain, writeEvent, type ToldEvent } from './live-body.js';
import { writeMark, type LiveMark } from './live-mark.js';

/** Events in the ring, or up to twice as many; alarms and entries with evidence have about 2 kB. Our choice. */
export const RING_MOST = 2_048;

export interface Kept {
  readonly seq: number;
  readonly event: ToldEvent;
  readonly mark: LiveMark;
  /** null: nobody has asked for it yet */
  text: string | null;
}

export class LiveHub {
  readonly #deps: Pick<ApiDeps, 'plan' | 'now'>;
  readonly epoch: string;
  #seq = 0;
  #journalId: number | null = null;
  #ring: Kept[] = [];
  /** newest number that is no longer in the ring */
  #lost = 0;
  /** last of each sensor, in the order of their numbers */
  readonly #rates = new Map<string, Kept>();
  readonly #readers = new Set<() => void>();
  #isDue = false;
  readonly #unsubscribe: () => void;

  /** `epoch`: of this start, lower-case letters and digits. */
  constructor(deps: Pick<ApiDeps, 'plan' | 'now' | 'subscribeLive'>, epoch: string) {
    this.#deps = deps;
    this.epoch = epoch;
    this.#unsubscribe = deps.subscribeLive((event) => this.#take(event));
  }

  /** Where somebody stands who has heard everything so far. */
  get mark(): LiveMark {
    return this.#markAt(this.#seq);
  }

  /** The store's own last number, for a gateway that has entered nothing since its start. */
  learnJournalEnd(id: number): void {
    this.#journalId = Math.max(this.#journalId ?? 0, id);
  }

  get knowsJournal(): boolean {
    return this.#journalId !== null;
  }

  /** Called once for any number of events, after the present turn. Returns the function that ends it. */
  follow(told: () => void): () => void {
    this.#readers.add(told);
    return () => void this.#readers.delete(told);
  }

  /** What came behind a number, in order, at most `most`; null: the ring does not reach back so far. */
  after(seq: number, most: number): Kept[] | null {
    if (seq < this.#lost) return null;
    const first = this.#firstBehind(seq);
    const events = this.#ring.slice(first, first + most);
    const upTo = events.length < most ? Infinity : events[events.length - 1]!.seq;
    const rates: Kept[] = [];
    for (const kept of this.#rates.values()) if (kept.seq > seq && kept.seq <= upTo) rates.push(kept);
    return [...events, ...rates].sort((a, b) => a.seq - b.seq).slice(0, most);
  }

  /** As it goes over the wire, made once for all readers. */
  textOf(kept: Kept): string {
    return (kept.text ??= writeEvent(kept.event, writeMark(kept.mark), this.#deps.plan()));
  }

  close(): void {
    this.#unsubscribe();
  }

  #take(event: LiveNews): void {
    if (event.kind === 'gap') {
      this.#push(this.#keep({ kind: 'again', again: describeAgain('too-far-behind', ['everything']) }));
      this.#tellLater();
      return;
    }
    if (event.kind === 'journal' && event.id !== null) {
      // a batch tells no more than its bound, and what retention enters is told to nobody
      const isBehindGap = this.#journalId !== null && event.id > this.#journalId + 1;
      if (isBehindGap)
        this.#push(this.#keep({ kind: 'again', again: describeAgain('too-far-behind', ['journal']) }));
      this.learnJournalEnd(event.id);
    }
    const kept = this.#keep(event);
    if (event.kind === 'rate') {
      this.#rates.delete(event.rate.sensor);
      this.#rates.set(event.rate.sensor, kept);
    } else {
      this.#push(kept);
    }
    this.#tellLater();
  }

  #tellLater(): void {
    if (this.#isDue) return;
    this.#isDue = true;
    setImmediate(() => {
      this.#isDue = false;
      for (const told of this.#readers) told();
    });
  }

  #keep(event: ToldEvent): Kept {
    const seq = ++this.#seq;
    return { seq, event, mark: this.#markAt(seq), text: null };
  }

  #push(kept: Kept): void {
    this.#ring.push(kept);
    const over = this.#ring.length - RING_MOST;
    if (over < RING_MOST) return;
    this.#lost = this.#ring[over - 1]!.seq;
    this.#ring = this.#ring.slice(over);
  }

  #markAt(seq: number): LiveMark {
    return { epoch: this.epoch, seq, journalId: this.#journalId, at: this.#deps.now() };
  }

  #firstBehind(seq: number): number {
    let low = 0;
    let high = this.#ring.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.#ring[middle]!.seq > seq) high = middle;
      else low = middle + 1;
    }
    return low;
  }
}
