/**
 * Collects frames into batches. While one is on its way the next one fills, so a busy gateway commits big batches and an
 * idle one small ones, without a timer that anybody would have to wait for. Under load a second one follows before the
 * first is answered: the engine finds it at hand, and neither thread waits for the other. What rides along with a frame
 * (`held`: whoever waits for the commit) comes back when its batch is settled, in the order of arrival.
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

interface UnderWay<H> {
  readonly id: number;
  readonly length: number;
  readonly held: H[];
  /** monotonic ms */
  readonly submittedAt: number;
}

/** Only while no batch is on its way. */
interface Planned {
  readonly isGathering: boolean;
  timer: NodeJS.Timeout | undefined;
}

const BUFFER_BYTES = 131_072;
const SPARES_MAX = 4;
/** One that is committed and one behind it: more would only be smaller. */
const UNDER_WAY_MAX = 2;
/**
 * From so many frames on their way on, a batch waits until it has a quarter of them (the others are being committed or
 * answered then, so that both threads have work): behind another one as long as that takes, before an idle engine but
 * briefly, and for no more frames than are worth waiting for.
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
  /** in the order in which they were submitted, which is that of the answers */
  readonly #underWay: UnderWay<H>[] = [];
  #nextId = 1;
  #submittedAt = Number.NEGATIVE_INFINITY;
  #planned: Planned | null = null;
  #openedAt = 0;
  /** a quarter of the frames on their way when a batch was answered last; 0: not busy */
  #quarterCount = 0;
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

  /** Since when (monotonic ms) the oldest batch on its way is awaited; null: none is. */
  get waitingSince(): number | null {
    return this.#underWay[0]?.submittedAt ?? null;
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

  /** The engine has answered batch `id`. Sends the next one first; returns who waited for this one: nobody after `halt`. */
  settle(id: number, buffer: ArrayBuffer | null): H[] {
    const settled = this.#underWay[0];
    if (settled === undefined || settled.id !== id) return [];
    const count = this.#countAll();
    this.#quarterCount = count < BUSY_COUNT ? 0 : Math.ceil(count / 4);
    this.#underWay.shift();
    this.#pendingBytes -= settled.length;
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
      ...this.#underWay.flatMap((batch) => batch.held),
      ...this.#full.flatMap((batch) => batch.held),
      ...(this.#open?.held ?? []),
    ];
    this.#underWay.length = 0;
    this.#full.length = 0;
    this.#open = null;
    this.#pendingBytes = 0;
    this.#quarterCount = 0;
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

  /** Frames that wait for their commit. */
  #countAll(): number {
    let count = this.#open?.held.length ?? 0;
    for (const batch of this.#underWay) count += batch.held.length;
    for (const batch of this.#full) count += batch.held.length;
    return count;
  }

  /** Submits the next batch, now or later, where one may go. Gathered enough: now, not when every socket has been read. */
  #schedule(isNow = false): void {
    if (this.#isHalted || (this.#full.length === 0 && this.#open === null)) return;
    if (this.#underWay.length > 0) {
      if (this.#mayFollow()) this.#flush();
      return;
    }
    if (this.#planned !== null) {
      if (this.#planned.isGathering && !this.#gathersMore()) this.#flush();
      return;
    }
    const now = performance.now();
    const intervalMs = this.#submittedAt + this.#limits.minCommitIntervalMs - now;
    const gatherMs = this.#gathersMore() ? this.#openedAt + GATHER_MS - now : 0;
    if (isNow && intervalMs <= 0 && gatherMs <= 0) this.#flush();
    else this.#plan(Math.max(0, intervalMs, gatherMs), gatherMs > Math.max(0, intervalMs));
  }

  /** Where commits are to be rare, none follows close behind another. */
  #mayFollow(): boolean {
    if (this.#underWay.length >= UNDER_WAY_MAX || this.#limits.minCommitIntervalMs > 0) return false;
    if (this.#full.length > 0) return true;
    return this.#quarterCount > 0 && this.#open !== null && this.#open.held.length >= this.#quarterCount;
  }

  /** Under load a batch of few messages costs both threads more than the short wait for others. */
  #gathersMore(): boolean {
    if (this.#full.length > 0 || this.#open === null) return false;
    return this.#open.held.length < Math.min(GATHER_COUNT_MAX, this.#quarterCount);
  }

  /** Submits after `waitMs`, or at the end of this turn of the event loop. */
  #plan(waitMs: number, isGathering = false): void {
    const planned: Planned = { isGathering, timer: undefined };
    this.#planned = planned;
    const flush = (): void => {
      if (this.#planned === planned) this.#flush();
    };
    if (waitMs > 0) planned.timer = setTimeout(flush, Math.ceil(waitMs));
    else setImmediate(flush);
  }

  /** Submits the oldest batch, whatever was planned. */
  #flush(): void {
    clearTimeout(this.#planned?.timer);
    this.#planned = null;
    if (this.#isHalted) return;
    if (this.#full.length === 0) this.#close();
    const batch = this.#full.shift();
    if (batch === undefined) return;
    const { held, ...submitted } = batch;
    this.#submittedAt = performance.now();
    this.#underWay.push({ id: batch.id, length: batch.length, held, submittedAt: this.#submittedAt });
    this.#submit(submitted);
    if (this.#mayFollow()) this.#flush();
  }
}
