/**
 * Sends a batch until each of its records is taken or found to be refused for good: a batch that is refused is halved
 * until the record at fault stands alone.
 */
import type { CutWatch } from './cut-watch.js';
import type { Refusals } from './refusals.js';
import type { Sent, SinkRecord } from './sink.js';

export interface Refused {
  readonly record: SinkRecord;
  readonly reason: string;
}

export type Delivered =
  { readonly outcome: 'done'; readonly refused: readonly Refused[] } | Extract<Sent, { outcome: 'later' }>;

const CUT_ALWAYS = {
  outcome: 'later',
  reason: 'it ends the connection whatever is sent: look at its log',
  retryAfterMs: null,
} as const;

class GivenUp extends Error {
  constructor(readonly sent: Extract<Sent, { outcome: 'later' }>) {
    super(sent.reason);
  }
}

/** What a lane remembers over all its batches. */
export interface LaneMemory {
  readonly cuts: CutWatch;
  readonly refusals: Refusals;
}

type Send = (records: readonly SinkRecord[]) => Promise<Sent>;

/** `send`: one call of the sink, under its deadline, on a connection that is opened where there is none. */
export async function deliver(
  records: readonly SinkRecord[],
  send: Send,
  memory: LaneMemory,
): Promise<Delivered> {
  const delivery = new Delivery(records, send, memory);
  try {
    return { outcome: 'done', refused: await delivery.run() };
  } catch (error) {
    if (error instanceof GivenUp) return error.sent;
    throw error;
  }
}

class Delivery {
  readonly #refused: Refused[] = [];
  #hasTaken = false;
  /** null: no connection has been cut */
  #isHalving: boolean | null = null;
  #hasBlamed = false;

  constructor(
    private readonly records: readonly SinkRecord[],
    private readonly send: Send,
    private readonly memory: LaneMemory,
  ) {}

  /** Throws `GivenUp`. */
  async run(): Promise<readonly Refused[]> {
    const { cuts, refusals } = this.memory;
    await this.#sendPart(this.records);
    if (this.#hasBlamed && !cuts.hasTaken) throw new GivenUp(CUT_ALWAYS);
    if (this.#hasTaken && this.#refused.length > 0) refusals.noteMixed();
    return this.#refused;
  }

  async #sendPart(part: readonly SinkRecord[]): Promise<void> {
    if (part.length === 0) return;
    const sent = await this.#sendOnce(part);
    if (sent.outcome === 'taken') {
      this.#noteTaken();
      return;
    }
    if (sent.outcome === 'later') throw new GivenUp(sent);
    const at = part.length === 1 ? 0 : sent.index;
    if (at !== null && part[at] !== undefined) {
      await this.#refuse(part[at], sent.reason);
      await this.#sendPart([...part.slice(0, at), ...part.slice(at + 1)]);
      return;
    }
    const half = Math.ceil(part.length / 2);
    await this.#sendPart(part.slice(0, half));
    await this.#sendPart(part.slice(half));
  }

  /** A connection that is cut again and again says that one of these is refused. */
  async #sendOnce(part: readonly SinkRecord[]): Promise<Sent> {
    let sent = await this.send(part);
    if (sent.outcome !== 'later' || sent.isCut !== true) return sent;
    this.#isHalving ??= this.memory.cuts.noteCut(this.records);
    // alone, and a second time: it is this one
    if (this.#isHalving && part.length === 1) sent = await this.send(part);
    if (!this.#isHalving || sent.outcome !== 'later' || sent.isCut !== true) return sent;
    this.#hasBlamed ||= part.length === 1;
    const reason = `${sent.reason} each time that this record came: it may be larger than it allows`;
    return { outcome: 'refused', reason, index: null };
  }

  async #refuse(record: SinkRecord, reason: string): Promise<void> {
    const { refusals } = this.memory;
    this.#refused.push({ record, reason });
    if (!refusals.noteRefused()) return;
    // another record tells a bad stretch from a receiver that refuses everything
    const last = this.records[this.records.length - 1]!;
    const sent = last === record ? null : await this.send([last]);
    if (sent?.outcome === 'taken') {
      this.#noteTaken();
      return;
    }
    refusals.notePutOff();
    if (sent?.outcome === 'later') throw new GivenUp(sent);
    const all = `it refuses everything: ${reason}`;
    throw new GivenUp({ outcome: 'later', reason: all, retryAfterMs: null, isOpen: true });
  }

  #noteTaken(): void {
    this.#hasTaken = true;
    this.memory.cuts.noteTaken();
    this.memory.refusals.noteTaken();
  }
}
