/**
 * The HTTP interface as the main thread sees it: a thread of its own, started again on the same port when it dies. Sessions and the
 * numbers of the live stream end with it; the intake does not notice.
 */
import type { LiveEvent } from '../../api/deps.js';
import type { Log } from '../../intake/log-limit.js';
import { toError, toFault, type Fault } from './fault.js';
import { LiveFeed } from './live-feed.js';
import { startLine, type Line } from './line.js';
import type { Answers, Ask, FromWeb, InForce, WebSettings } from './protocol.js';

export interface WebWishes {
  readonly settings: WebSettings;
  readonly answers: Answers;
  readonly log: Pick<Log, 'error' | 'info'>;
  subscribeLive(listener: (event: LiveEvent) => void): () => void;
  /** tells at once and at each change what the gateway's clock adds to the machine's */
  followClock(listener: (offsetMs: number) => void): () => void;
}

const RESTART_LEAST_MS = 500;
const RESTART_MOST_MS = 30_000;
/** A thread that lived so long did not die at birth. */
const LIVED_MS = 60_000;
/** A thread that has not taken a new configuration over by then hangs, and might let in who may no longer come in. */
const TAKE_MS = 10_000;
const STOP_MS = 10_000;

interface Beginning {
  readonly resolve: (port: number) => void;
  readonly reject: (error: Error) => void;
}

export class WebHost {
  readonly #wishes: WebWishes;
  #settings: WebSettings;
  #line: Line | null = null;
  readonly #feed = new LiveFeed((news) => this.#line?.post({ kind: 'news', news }));
  readonly #ends: (() => void)[] = [];
  readonly #takings = new Map<number, () => void>();
  #nextTaking = 1;
  /** until it listens for the first time */
  #beginning: Beginning | null = null;
  #stopped: (() => void) | null = null;
  #isStopping = false;
  #startedAt = 0;
  #restartMs = RESTART_LEAST_MS;
  #restart: NodeJS.Timeout | null = null;
  #restarts = 0;

  constructor(wishes: WebWishes) {
    this.#wishes = wishes;
    this.#settings = wishes.settings;
  }

  /** How often it was started again, and the live events that it was not told of because it did not keep up. */
  figures(): { readonly restarts: number; readonly leftOut: number } {
    return { restarts: this.#restarts, leftOut: this.#feed.leftOut };
  }

  /** The port that it listens on. Rejects with why it cannot listen; nothing of it is left then. */
  async start(): Promise<number> {
    const listening = new Promise<number>((resolve, reject) => {
      this.#beginning = { resolve, reject };
    });
    this.#ends.push(
      this.#wishes.subscribeLive((event) => {
        if (this.#line !== null) this.#feed.tell(event);
      }),
      this.#wishes.followClock((clockOffsetMs) => {
        this.#settings = { ...this.#settings, clockOffsetMs };
        this.#line?.post({ kind: 'clock', offsetMs: clockOffsetMs });
      }),
    );
    try {
      await this.#open();
      const port = await listening;
      this.#beginning = null;
      this.#settings = { ...this.#settings, port };
      return port;
    } catch (error) {
      await this.stop();
      throw error;
    }
  }

  /** Resolves when requests are answered by what is in force now. Never rejects: who does not take it over is ended. */
  async take(inForce: InForce): Promise<void> {
    this.#settings = { ...this.#settings, inForce };
    const line = this.#line;
    if (line === null) return;
    const id = this.#nextTaking++;
    let timer: NodeJS.Timeout | null = null;
    const isTaken = await new Promise<boolean>((resolve) => {
      timer = setTimeout(() => resolve(false), TAKE_MS);
      this.#takings.set(id, () => resolve(true));
      line.post({ kind: 'take', id, inForce });
    });
    if (timer !== null) clearTimeout(timer);
    this.#takings.delete(id);
    if (!isTaken) await line.end();
  }

  /** Ends streams and requests first; bounded in time. */
  async stop(): Promise<void> {
    this.#isStopping = true;
    for (const end of this.#ends.splice(0)) end();
    if (this.#restart !== null) clearTimeout(this.#restart);
    const line = this.#line;
    if (line === null) return;
    await new Promise<void>((resolve) => {
      const timer = setTimeout(resolve, STOP_MS);
      this.#stopped = () => {
        clearTimeout(timer);
        resolve();
      };
      line.post({ kind: 'stop' });
    });
    this.#line = null;
    await line.end();
  }

  async #open(): Promise<void> {
    this.#startedAt = performance.now();
    this.#feed.startAnew();
    const line = await startLine(this.#settings, {
      receive: (message) => this.#receive(message, line),
      lost: (fault) => this.#lose(line, fault),
    });
    this.#line = line;
  }

  #receive(message: FromWeb, line: Line): void {
    switch (message.kind) {
      case 'ask':
        void this.#answer(message, line);
        return;
      case 'listening':
        if (this.#beginning === null)
          this.#wishes.log.info({ port: message.port }, 'the HTTP interface is there again');
        this.#beginning?.resolve(message.port);
        return;
      case 'failed':
        this.#beginning?.reject(toError(message.fault));
        if (this.#beginning === null) void this.#giveUp(line, message.fault);
        return;
      case 'told':
        if (line === this.#line) this.#feed.took(message.count);
        return;
      case 'taken':
        this.#takings.get(message.id)?.();
        return;
      case 'log':
        this.#wishes.log.error(message.facts, message.text);
        return;
      case 'stopped':
        this.#stopped?.();
    }
  }

  /** It could not start again: the port is somebody else's meanwhile, say. */
  async #giveUp(line: Line, { message }: Fault): Promise<void> {
    this.#wishes.log.error({ fault: message }, 'the HTTP interface could not start');
    await line.end();
  }

  async #answer({ id, name, argument }: Ask, line: Line): Promise<void> {
    try {
      const value: unknown = await this.#wishes.answers[name](argument as never);
      line.post({ kind: 'answer', id, ok: true, value });
    } catch (error) {
      line.post({ kind: 'answer', id, ok: false, fault: toFault(error) });
    }
  }

  #lose(line: Line, fault: string): void {
    if (this.#line !== line) return;
    this.#line = null;
    for (const taken of this.#takings.values()) taken();
    this.#stopped?.();
    if (this.#isStopping) return;
    if (this.#beginning !== null) {
      this.#beginning.reject(new Error(`the HTTP interface ended at its start: ${fault}`));
      return;
    }
    this.#wishes.log.error({ fault }, 'the HTTP interface ended; it is started again');
    if (performance.now() - this.#startedAt > LIVED_MS) this.#restartMs = RESTART_LEAST_MS;
    this.#restarts += 1;
    this.#restart = setTimeout(() => void this.#open(), this.#restartMs);
    this.#restartMs = Math.min(RESTART_MOST_MS, this.#restartMs * 2);
  }
}
