/**
 * Questions of the HTTP interface to the main thread. That thread takes publishes in, so each question is small; and it may hang,
 * so each has a deadline, and only so many are on their way.
 */
import type { Answer, Ask, QuestionName, Questions } from './protocol.js';
import { toError } from './fault.js';

/** For what it knows by heart. The load balancer, or whoever asks /ready, is told after this that it hangs. */
const DEADLINE_MS = 2_000;
/** For what waits for a commit, a copy of the store, a mail server or a receiver. */
const PATIENCE_MS = 600_000;
const PATIENT: ReadonlySet<QuestionName> = new Set([
  ...(['operate', 'maintain', 'keepRun', 'backup', 'notifyTest'] as const),
  ...(['sinkLedger', 'sinkRetry', 'sinkTest', 'sinkBackfill'] as const),
]);
/** Posted and not answered, also those that nobody waits for any more. */
const UNANSWERED_MOST = 1_024;

/** The main thread gave no answer in time; whether it did what it was asked to is not known. */
export class NoAnswer extends Error {
  readonly code = 'no-answer';
  readonly hint = 'Look at the log and at the load of the machine; restart the gateway if this goes on.';
  constructor(detail: string) {
    super(`the gateway does not answer: ${detail}`);
  }
}

interface Waiting {
  readonly resolve: (value: never) => void;
  readonly reject: (error: Error) => void;
  readonly timer: NodeJS.Timeout;
}

export class MainCalls {
  readonly #post: (ask: Ask) => void;
  readonly #waiting = new Map<number, Waiting>();
  #unanswered = 0;
  #nextId = 1;

  constructor(post: (ask: Ask) => void) {
    this.#post = post;
  }

  /** Rejects with what the main thread says, or with `NoAnswer`. */
  ask<Name extends QuestionName>(name: Name, argument: Questions[Name][0]): Promise<Questions[Name][1]> {
    if (this.#unanswered >= UNANSWERED_MOST)
      return Promise.reject(new NoAnswer(`${UNANSWERED_MOST} questions wait for it`));
    const id = this.#nextId++;
    const ms = PATIENT.has(name) ? PATIENCE_MS : DEADLINE_MS;
    return new Promise((resolve, reject) => {
      const timer = setTimeout(() => {
        this.#waiting.delete(id);
        reject(new NoAnswer(`nothing was heard of it for ${ms / 1_000} s`));
      }, ms);
      this.#waiting.set(id, { resolve, reject, timer });
      this.#unanswered += 1;
      this.#post({ kind: 'ask', id, name, argument });
    });
  }

  take(answer: Answer): void {
    this.#unanswered -= 1;
    const waiting = this.#waiting.get(answer.id);
    if (waiting === undefined) return;
    this.#waiting.delete(answer.id);
    clearTimeout(waiting.timer);
    if (answer.ok) waiting.resolve(answer.value as never);
    else waiting.reject(toError(answer.fault));
  }

  /** Nobody answers any more. */
  close(): void {
    for (const { reject, timer } of this.#waiting.values()) {
      clearTimeout(timer);
      reject(new NoAnswer('it stops'));
    }
    this.#waiting.clear();
  }
}
