/**
 * A line of questions to the reading thread. The thread starts with the first question and is replaced when it dies; where
 * the sources run uncompiled (tests), the questions are answered in this thread.
 */
import { Worker, type ResourceLimits } from 'node:worker_threads';
import type { Answerer } from './answer.js';
import type { QueryAnswer, QueryName, Question } from './question.js';

const IS_COMPILED = import.meta.url.endsWith('.js');
/** What answers is not loaded where a thread of its own does. */
const inline = IS_COMPILED ? null : await import('./answer.js');

/**
 * A year of a motor in minutes has a million rows, of which an answer holds sums; a proof, the rows of one sensor. Without a bound
 * garbage grows to several times what lives before it is collected, and a fault would take the whole gateway with it.
 */
const LIMITS: ResourceLimits = { maxOldGenerationSizeMb: 512, maxYoungGenerationSizeMb: 16 };

/** The store could not answer. `hint` is what to do; null: a fault of ours. */
export class QueryError extends Error {
  readonly hint?: string;
  constructor(
    message: string,
    readonly code: string,
    hint: string | null,
  ) {
    super(message);
    if (hint !== null) this.hint = hint;
  }
}

interface Waiting {
  readonly resolve: (value: never) => void;
  readonly reject: (error: Error) => void;
}

export class QueryLane {
  readonly #dataDir: string;
  readonly #waitingMost: number;
  readonly #waiting = new Map<number, Waiting>();
  #worker: Worker | null = null;
  #inline: Answerer | null = null;
  #nextId = 1;

  /** `waitingMost`: more questions at once are refused. */
  constructor(dataDir: string, waitingMost: number) {
    this.#dataDir = dataDir;
    this.#waitingMost = waitingMost;
  }

  /** Rejects with `QueryError`. The caller knows what type the answer has. */
  async ask<T>(name: QueryName, argument: unknown = null): Promise<T> {
    if (this.#waiting.size >= this.#waitingMost) {
      throw new QueryError('Too many questions wait for the store.', 'busy', 'Ask less often, or for less.');
    }
    const question: Question = { id: this.#nextId++, name, argument };
    return new Promise<T>((resolve, reject) => {
      this.#waiting.set(question.id, { resolve, reject });
      this.#post(question);
    });
  }

  async close(): Promise<void> {
    this.#inline?.close();
    const worker = this.#worker;
    this.#worker = null;
    await worker?.terminate();
    this.#failAll('the gateway stops');
  }

  #post(question: Question): void {
    if (inline !== null) {
      this.#inline ??= new inline.Answerer(this.#dataDir);
      void this.#inline.answer(question).then((answer) => this.#receive(answer));
      return;
    }
    this.#worker ??= this.#start();
    this.#worker.postMessage(question);
  }

  #start(): Worker {
    const worker = new Worker(new URL('./thread.js', import.meta.url), {
      workerData: { dataDir: this.#dataDir },
      resourceLimits: LIMITS,
    });
    worker.unref();
    worker.on('message', (answer: QueryAnswer) => this.#receive(answer));
    worker.on('error', (error) => this.#drop(worker, error.message));
    worker.on('exit', () => this.#drop(worker, 'it ended'));
    return worker;
  }

  #drop(worker: Worker, reason: string): void {
    if (this.#worker !== worker) return;
    this.#worker = null;
    this.#failAll(reason);
  }

  #failAll(reason: string): void {
    for (const { reject } of this.#waiting.values()) {
      reject(new QueryError(`The reading thread gave no answer: ${reason}.`, 'failed', 'Ask again.'));
    }
    this.#waiting.clear();
  }

  #receive(answer: QueryAnswer): void {
    const waiting = this.#waiting.get(answer.id);
    this.#waiting.delete(answer.id);
    if (answer.ok) waiting?.resolve(answer.value as never);
    else waiting?.reject(new QueryError(answer.message, answer.code, answer.hint));
  }
}
