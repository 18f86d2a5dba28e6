/** The gateway as a server process sees it: settings and beats come in, questions go out. It ends with the gateway. */
import { getPriority, setPriority } from 'node:os';
import { FedClock } from './fed-clock.js';
import type { Beat, FromServer, ToServer } from './server-protocol.js';

export interface LinkHandlers<Settings> {
  /** resolves when it listens; rejects with a sentence that says what to do */
  start(settings: Settings, link: ServerLink): Promise<{ port: number; says: string }>;
  beat(beat: Beat, link: ServerLink): void;
  figures(): Record<string, number>;
  stop(): Promise<void>;
}

export interface ServerLink {
  readonly clock: FedClock;
  say(level: 'info' | 'warn', text: string): void;
  /** rejects with the gateway's sentence, or when it gives no answer in time */
  ask(wish: unknown): Promise<unknown>;
}

const FIGURES_MS = 5_000;
/**
 * What the process adds to the niceness that it was started with: intake and engine go first, and yet a PLC, which gives up within
 * a second or so, is answered before whoever reads the store or drains a backlog.
 */
const NICER_BY = 5;
const NICEST = 19;
const ANSWER_MS = 15_000;
const ASKS_MAX = 32;

export class GatewayLink<Settings> implements ServerLink {
  readonly clock = new FedClock();
  readonly #handlers: LinkHandlers<Settings>;
  readonly #asks = new Map<number, { resolve(value: unknown): void; reject(error: Error): void }>();
  #nextAsk = 1;
  #isStarted = false;
  #early: Beat | null = null;
  #isEnding = false;

  constructor(handlers: LinkHandlers<Settings>) {
    this.#handlers = handlers;
    setPriority(0, Math.min(NICEST, getPriority(0) + NICER_BY));
    process.on('message', (message) => this.#receive(message as ToServer<Settings>));
    // the gateway is gone, by whatever way: nobody may go on reading what it said
    process.on('disconnect', () => void this.#end());
    // a signal to the whole group is the gateway's to answer; it says when to stop
    for (const name of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(name, () => undefined);
    setInterval(() => this.#post({ kind: 'figures', figures: handlers.figures() }), FIGURES_MS).unref();
  }

  say(level: 'info' | 'warn', text: string): void {
    this.#post({ kind: 'said', level, text });
  }

  ask(wish: unknown): Promise<unknown> {
    if (this.#asks.size >= ASKS_MAX)
      return Promise.reject(new Error('too many questions at once: ask again'));
    const id = this.#nextAsk++;
    return new Promise((resolve, reject) => {
      const timer = setTimeout(() => {
        this.#asks.delete(id);
        reject(new Error(`the gateway gave no answer within ${ANSWER_MS / 1000} s`));
      }, ANSWER_MS);
      const settle = (): void => {
        clearTimeout(timer);
        this.#asks.delete(id);
      };
      this.#asks.set(id, {
        resolve: (value) => (settle(), resolve(value)),
        reject: (error) => (settle(), reject(error)),
      });
      this.#post({ kind: 'ask', id, wish });
    });
  }

  #receive(message: ToServer<Settings>): void {
    switch (message.kind) {
      case 'start':
        void this.#start(message.settings);
        return;
      case 'beat':
        this.clock.take(message.clockOffsetMs);
        // what comes while the server still starts would be lost: the gateway sends no other before this one is taken
        if (this.#isStarted) this.#takeBeat(message);
        else this.#early = message;
        return;
      case 'answer':
        if (message.fault === null) this.#asks.get(message.id)?.resolve(message.value);
        else this.#asks.get(message.id)?.reject(new Error(message.fault));
        return;
      case 'stop':
        void this.#end();
        return;
    }
  }

  #takeBeat(beat: Beat): void {
    this.#handlers.beat(beat, this);
    this.#post({ kind: 'taken', id: beat.id });
  }

  async #start(settings: Settings): Promise<void> {
    try {
      const { port, says } = await this.#handlers.start(settings, this);
      this.#isStarted = true;
      this.#post({ kind: 'listening', port, says });
      if (this.#early !== null) this.#takeBeat(this.#early);
      this.#early = null;
    } catch (error) {
      const says = error instanceof Error ? error.message : String(error);
      process.send?.({ kind: 'failed', says } satisfies FromServer, () => process.exit(1));
    }
  }

  async #end(): Promise<void> {
    if (this.#isEnding) return;
    this.#isEnding = true;
    await this.#handlers.stop().catch(() => undefined);
    process.exit(0);
  }

  #post(message: FromServer): void {
    if (process.connected) process.send?.(message, () => undefined);
  }
}
