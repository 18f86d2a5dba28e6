/**
 * The desk of a running gateway for rehearsals: one at a time, in a thread of its own that may be ended at any moment, bounded
 * in time and memory. What it found is kept in memory only, the newest few.
 */
import { Worker } from 'node:worker_threads';
import type { Rehearsal } from './outcome.js';
import type { RehearsalWish } from './rehearse.js';
import { runHere, type RehearsalNews } from './run-here.js';

/** Longest run; a month of twenty sensors takes seconds. Our choice. */
const RUN_MS_MOST = 15 * 60_000;
const HEAP_MB_MOST = 384;
const KEPT_MOST = 8;
const IS_COMPILED = import.meta.url.endsWith('.js');

export interface RehearsalJob {
  readonly id: string;
  readonly startedAt: number;
  readonly state: 'running' | 'done' | 'failed' | 'cancelled';
  /** 0 to 1, of the time to be played */
  readonly share: number;
  /** null: it still runs */
  readonly endedAt: number | null;
  readonly result: Rehearsal | null;
  /** why it failed; `hint` null: a fault of ours */
  readonly failure: { readonly message: string; readonly hint: string | null } | null;
}

interface Running {
  readonly id: string;
  stop(): void;
}

export class RehearsalDesk {
  readonly #dataDir: string;
  readonly #now: () => number;
  readonly #jobs = new Map<string, RehearsalJob>();
  #running: Running | null = null;
  #nextId = 1;

  /** `now`: the gateway's clock, ms. */
  constructor(dataDir: string, now: () => number) {
    this.#dataDir = dataDir;
    this.#now = now;
  }

  /** null: another one runs. */
  begin(wish: RehearsalWish): RehearsalJob | null {
    if (this.#running !== null) return null;
    const id = String(this.#nextId++);
    const job: RehearsalJob = {
      ...{ id, startedAt: this.#now(), state: 'running', share: 0 },
      ...{ endedAt: null, result: null, failure: null },
    };
    this.#jobs.set(id, job);
    for (const old of this.#jobs.keys()) {
      if (this.#jobs.size <= KEPT_MOST) break;
      this.#jobs.delete(old);
    }
    const take = (news: RehearsalNews): void => this.#take(id, news);
    this.#running = {
      id,
      stop: IS_COMPILED ? startThread(this.#dataDir, wish, take) : startHere(this.#dataDir, wish, take),
    };
    return job;
  }

  /** The one that runs; null: none does. */
  running(): RehearsalJob | null {
    return this.#running === null ? null : this.find(this.#running.id);
  }

  /** null: there is none, or it is forgotten. */
  find(id: string): RehearsalJob | null {
    return this.#jobs.get(id) ?? null;
  }

  /** Newest first. */
  list(): RehearsalJob[] {
    return [...this.#jobs.values()].reverse();
  }

  /** Ends it if it runs, and forgets nothing. null: there is none. */
  cancel(id: string): RehearsalJob | null {
    if (this.#running?.id === id) this.#end(id, { state: 'cancelled' });
    return this.find(id);
  }

  close(): void {
    if (this.#running !== null) this.cancel(this.#running.id);
  }

  #take(id: string, news: RehearsalNews): void {
    if (this.#running?.id !== id) return;
    if (news.kind === 'progress') this.#jobs.set(id, { ...this.#jobs.get(id)!, share: news.share });
    else if (news.kind === 'done') this.#end(id, { state: 'done', share: 1, result: news.result });
    else this.#end(id, { state: 'failed', failure: { message: news.message, hint: news.hint } });
  }

  #end(id: string, change: Partial<RehearsalJob>): void {
    this.#running?.stop();
    this.#running = null;
    this.#jobs.set(id, { ...this.#jobs.get(id)!, ...change, endedAt: this.#now() });
  }
}

type Take = (news: RehearsalNews) => void;

/** Returns what ends it. */
function startThread(dataDir: string, wish: RehearsalWish, take: Take): () => void {
  const worker = new Worker(new URL('./thread.js', import.meta.url), {
    workerData: { dataDir, wish },
    resourceLimits: { maxOldGenerationSizeMb: HEAP_MB_MOST },
  });
  worker.unref();
  const fail = (message: string, hint: string): void =>
    take({ kind: 'failed', code: 'failed', message, hint });
  const limit = setTimeout(
    () => fail(`The rehearsal took longer than ${RUN_MS_MOST / 60_000} min.`, 'Choose a shorter time.'),
    RUN_MS_MOST,
  );
  limit.unref();
  worker.on('message', take);
  worker.on('error', (error) => fail(`The rehearsal ended: ${error.message}.`, 'Choose a shorter time.'));
  worker.on('exit', () => fail('The rehearsal ended without an answer.', 'Begin it again.'));
  return () => {
    clearTimeout(limit);
    void worker.terminate();
  };
}

/** Where the sources run uncompiled (tests): a day at a time between other work. */
function startHere(dataDir: string, wish: RehearsalWish, take: Take): () => void {
  const run = runHere(dataDir, wish);
  let isStopped = false;
  const goOn = (): void => {
    if (isStopped) return;
    const step = run.next();
    if (step.done === true) return;
    take(step.value);
    setImmediate(goOn);
  };
  setImmediate(goOn);
  return () => {
    isStopped = true;
    run.return(undefined);
  };
}
