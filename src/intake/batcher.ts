/**
 * Collects frames into batches. One batch is on its way at a time and the next one fills meanwhile, so a busy gateway
 * commits big batches and an idle one small ones, without a timer that anybody would have to wait for. What rides along
 * with a frame (`held`: whoever waits for the commit) comes back when its batch is settled, in the order of arrival.
 */
import { BatchWriter, type FrameKind } from './batch-writer.js';
import { NameTable } from './name-table.js';

export interface BatcherLimits {
  /** frames and bytes of one batch */
  readonly countMax: number;
  readonly bytesMax: number;
  /** bytes of all batches that wait for their commit; beyond it the sluice shuts */
  readonly pendingBytesMax: number;
  /** least time from one submission to the next; 0: none */
  readonly minCommitIntervalMs: number;
  readonly namesMax: number;
}

/** What the engine gets. `buffer` is transferred; `length` bytes of it are used. */
export interface SubmittedBatch {
  readonly id: number;
  readonly buffer: ArrayBuffer;
  readonly length: number;
  readonly count: number;
  /** names that this batch is the first to use, in the order of their numbers */
  readonly names: readonly string[];
  /** the names before are void, numbers start at 0 again */
  readonly resetNames: boolean;
}

interface Collected<H> {
  readonly writer: BatchWriter;
  readonly held: H[];
}

interface Planned {
  readonly isGathering: boolean;
  timer: NodeJS.Timeout | undefined;
}

const BUFFER_BYTES = 131_072;
const SPARES_MAX = 4;
/**
 * While at least so many frames are on their way, a batch waits, but briefly, until it has a quarter of them (the others are
 * being committed or answered then, so that both threads have work), and for no more than is worth waiting for.
 */
const BUSY_COUNT = 16;
const GATHER_COUNT_MAX = 256;
const GATHER_MS = 2;

export class Batcher<H> {
  readonly names: NameTable;
  readonly #limits: BatcherLimits;
  readonly #submit: (batch: SubmittedBatch) => void;
  #open: Collected<H> | null = null;
  readonly #full: (SubmittedBatch & { held: H[] })[] = [];
  #inFlight: { id: number; length: number; held: H[] } | null = null;
  #nextId = 1;
  #submittedAt = Number.NEGATIVE_INFINITY;
  #planned: Planned | null = null;
  #openedAt = 0;
  /** frames that the next batch waits for; 0: it does not wait */
  #gatherCount = 0;
  #isHalted = false;
  #pendingBytes = 0;
  readonly #spares: ArrayBuffer[] = [];
  #waiting: (() => void)[] = [];

  constructor(limits: BatcherLimits, submit: (batch: SubmittedBatch) => void) {
    this.#limits = limits;
    this.#submit = submit;
    this.names = new NameTable(limits.namesMax);
  }

  /** Bytes that wait for their commit. */
  get pendingBytes(): number {
    return this.#pendingBytes;
  }

  /** Since when (monotonic ms) the batch on its way is awaited; null: none is. */
  get waitingSince(): number | null {
    return this.#inFlight === null ? null : this.#submittedAt;
  }

  isShut(): boolean {
    return this.#pendingBytes >= this.#limits.pendingBytesMax;
  }

  wait(wake: () => void): void {
    this.#waiting.push(wake);
  }

  /** Before numbers are asked for: makes sure that they are good for the batch that the next frame goes into. */
  begin(): NameTable {
    if (this.#open === null) {
      this.names.tidy();
      this.#openedAt = performance.now();
      this.#open = { writer: new BatchWriter(BUFFER_BYTES, this.#spares.pop() ?? null), held: [] };
    }
    return this.names;
  }

  /** `client` and `topic` are numbers from `begin()`. */
  add(
    kind: FrameKind,
    flags: number,
    receivedAt: number,
    client: number,
    topic: number,
    payload: Uint8Array,
    held: H,
  ): void {
    this.begin();
    const { writer, held: all } = this.#open!;
    const before = writer.length;
    writer.add(kind, flags, receivedAt, client, topic, payload);
    all.push(held);
    this.#pendingBytes += writer.length - before;
    if (all.length >= this.#limits.countMax || writer.length >= this.#limits.bytesMax) this.#close();
    this.#schedule();
  }

  /** The engine has answered batch `id`. Sends the next one first; returns who waited for this one. */
  settle(id: number, buffer: ArrayBuffer | null): H[] {
    const settled = this.#inFlight;
    if (settled === null || settled.id !== id) return [];
    this.#inFlight = null;
    this.#pendingBytes -= settled.length;
    const count = settled.held.length + (this.#open?.held.length ?? 0);
    this.#gatherCount = count < BUSY_COUNT ? 0 : Math.min(GATHER_COUNT_MAX, Math.ceil(count / 4));
    if (
      buffer !== null &&
      buffer.byteLength <= 4 * this.#limits.bytesMax &&
      this.#spares.length < SPARES_MAX
    ) {
      this.#spares.push(buffer);
    }
    this.#schedule(true);
    if (!this.isShut() && this.#waiting.length > 0) {
      const waiting = this.#waiting;
      this.#waiting = [];
      setImmediate(() => waiting.forEach((wake) => wake()));
    }
    return settled.held;
  }

  /** Nothing is submitted until `resume`. Gives back everybody who waits, of all batches. */
  halt(): H[] {
    this.#isHalted = true;
    const all = [
      ...(this.#inFlight?.held ?? []),
      ...this.#full.flatMap((batch) => batch.held),
      ...(this.#open?.held ?? []),
    ];
    this.#inFlight = null;
    this.#full.length = 0;
    this.#open = null;
    this.#pendingBytes = 0;
    this.#gatherCount = 0;
    this.names.forget();
    return all;
  }

  /** Goes on, with an engine that knows no names yet. */
  resume(): void {
    this.#isHalted = false;
    const waiting = this.#waiting;
    this.#waiting = [];
    waiting.forEach((wake) => wake());
    this.#schedule();
  }

  #close(): void {
    const open = this.#open;
    if (open === null) return;
    this.#open = null;
    const { names, reset } = this.names.takeFresh();
    this.#full.push({
      id: this.#nextId++,
      buffer: open.writer.buffer,
      length: open.writer.length,
      count: open.held.length,
      names,
      resetNames: reset,
      held: open.held,
    });
  }

  #schedule(isNow = false): void {
    if (this.#isHalted || this.#inFlight !== null) return;
    if (this.#full.length === 0 && this.#open === null) return;
    if (this.#planned !== null) {
      // gathered enough before the time was up
      if (this.#planned.isGathering && !this.#gathersMore()) this.#plan(0);
      return;
    }
    const now = performance.now();
    const intervalMs = this.#submittedAt + this.#limits.minCommitIntervalMs - now;
    const gatherMs = this.#gathersMore() ? this.#openedAt + GATHER_MS - now : 0;
    if (isNow && intervalMs <= 0 && gatherMs <= 0) this.#flush();
    else this.#plan(Math.max(0, intervalMs, gatherMs), gatherMs > intervalMs);
  }

  /** Under load a batch of few messages costs both threads more than the short wait for others. */
  #gathersMore(): boolean {
    if (this.#full.length > 0 || this.#open === null) return false;
    return this.#open.held.length < this.#gatherCount;
  }

  /** Submits after `waitMs`, or at the end of this turn of the event loop. Replaces what was planned. */
  #plan(waitMs: number, isGathering = false): void {
    const old = this.#planned;
    if (old !== null) clearTimeout(old.timer);
    const planned: Planned = { isGathering, timer: undefined };
    this.#planned = planned;
    const flush = (): void => {
      if (this.#planned !== planned) return;
      this.#planned = null;
      this.#flush();
    };
    if (waitMs > 0) planned.timer = setTimeout(flush, Math.ceil(waitMs));
    else setImmediate(flush);
  }

  #flush(): void {
    if (this.#isHalted || this.#inFlight !== null) return;
    if (this.#full.length === 0) this.#close();
    const batch = this.#full.shift();
    if (batch === undefined) return;
    const { held, ...submitted } = batch;
    this.#inFlight = { id: batch.id, length: batch.length, held };
    this.#submittedAt = performance.now();
    this.#submit(submitted);
  }
}
