/** The forwarder as the main thread sees it: a thread of its own, started again when it dies. */
import { Worker } from 'node:worker_threads';
import type { SinkStanding } from '../core/facts.js';
import type { ForwardCall, ForwardSettings, FromForwarder, LogLevel, ToForwarder } from './protocol.js';
import { RunningForwarder } from './run-forwarder.js';
import type { SinkLedger, SinkStatus } from './sink-status.js';

export interface ForwardWishes {
  readonly settings: Omit<ForwardSettings, 'clockOffsetMs'>;
  log(this: void, level: LogLevel, facts: object, text: string): void;
  settled(this: void, done: ReadonlyMap<number, number>): void;
}

interface Line {
  post(message: ToForwarder): void;
  end(): Promise<void>;
}

const IS_COMPILED = import.meta.url.endsWith('.js');
const HEAP_MB_MOST = 512;
const RESTART_MS = 5_000;
const STOP_MS = 10_000;
/** It tells how the sinks stand once a second; a restart after a fault takes some. */
const SILENT_MS = 30_000;
const MUTE = 'the forwarder of the gateway says nothing: look at the log of the gateway';

export class ForwardHost {
  readonly #wishes: ForwardWishes;
  #line: Line | null = null;
  #status: readonly SinkStatus[] = [];
  readonly #calls = new Map<number, { resolve: (value: unknown) => void; reject: (error: Error) => void }>();
  #nextCall = 1;
  #clockOffsetMs = 0;
  /** when it told how the sinks stand, by the clock that nobody sets; at first: since when it should */
  #heardAt = performance.now();
  #isStopping = false;
  #restart: NodeJS.Timeout | null = null;

  constructor(wishes: ForwardWishes) {
    this.#wishes = wishes;
    this.#line = this.#start();
  }

  /** How the sinks stand; what the thread has not told lately is counted on. */
  standings(): SinkStanding[] {
    const silentMs = performance.now() - this.#heardAt;
    const last = new Map(this.#status.map(({ standing }) => [standing.sink, standing]));
    return this.#wishes.settings.sinks.map(({ name }) => {
      const known = last.get(name);
      if (known !== undefined && silentMs <= SILENT_MS) return known;
      const { lagMs = 0, waiting = 0 } = known ?? {};
      const silent = { isTaking: false, lastError: MUTE, losesAt: null } as const;
      return { sink: name, lagMs: Math.round(lagMs + silentMs), waiting, ...silent };
    });
  }

  /** As it was told last, a second ago at most. */
  status(): readonly SinkStatus[] {
    return this.#status;
  }

  ledger(sink: string): Promise<SinkLedger> {
    return this.#call({ do: 'ledger', sink }) as Promise<SinkLedger>;
  }

  retry(sink: string): Promise<number> {
    return this.#call({ do: 'retry', sink }) as Promise<number>;
  }

  /** Null: it was taken; else what it says. */
  test(sink: string): Promise<string | null> {
    return this.#call({ do: 'test', sink }) as Promise<string | null>;
  }

  backfill(sink: string, wish: Extract<ForwardCall, { do: 'backfill' }>['wish']): Promise<number> {
    return this.#call({ do: 'backfill', sink, wish }) as Promise<number>;
  }

  /** What the gateway's clock adds to the machine's, ms; told again to a thread that is started anew. */
  followClock(offsetMs: number): void {
    if (offsetMs === this.#clockOffsetMs) return;
    this.#clockOffsetMs = offsetMs;
    this.#call({ do: 'follow-clock', offsetMs }).catch(() => undefined);
  }

  #call(call: ForwardCall): Promise<unknown> {
    const line = this.#line;
    if (line === null)
      return Promise.reject(new Error('The forwarder is being started again. Ask again in a moment.'));
    const id = this.#nextCall++;
    return new Promise((resolve, reject) => {
      this.#calls.set(id, { resolve, reject });
      line.post({ id, call });
    });
  }

  #receive(message: FromForwarder): void {
    switch (message.kind) {
      case 'settled':
        this.#wishes.settled(message.done);
        return;
      case 'status':
        this.#status = message.status;
        this.#heardAt = performance.now();
        return;
      case 'log':
        this.#wishes.log(message.level, message.facts, message.text);
        return;
      case 'answer': {
        const call = this.#calls.get(message.id);
        this.#calls.delete(message.id);
        if (message.fault === null) call?.resolve(message.value);
        else call?.reject(new Error(message.fault));
      }
    }
  }

  #start(): Line {
    const settings: ForwardSettings = { ...this.#wishes.settings, clockOffsetMs: this.#clockOffsetMs };
    if (!IS_COMPILED) {
      const running = new RunningForwarder(settings, (message) => this.#receive(message));
      return { post: (message) => running.receive(message), end: () => Promise.resolve() };
    }
    const worker = new Worker(new URL('./thread.js', import.meta.url), {
      workerData: settings,
      resourceLimits: { maxOldGenerationSizeMb: HEAP_MB_MOST },
    });
    let fault = 'it ended';
    worker.on('message', (message: FromForwarder) => this.#receive(message));
    worker.on('error', (error) => {
      fault = error instanceof Error ? (error.stack ?? error.message) : String(error);
    });
    worker.on('exit', () => this.#lose(fault));
    return {
      post: (message) => worker.postMessage(message),
      end: async () => void (await worker.terminate()),
    };
  }

  #lose(fault: string): void {
    this.#line = null;
    for (const { reject } of this.#calls.values())
      reject(new Error('The forwarder ended. Ask again in a moment.'));
    this.#calls.clear();
    if (this.#isStopping) return;
    this.#wishes.log('error', { fault }, 'the forwarder ended; it is started again');
    this.#restart = setTimeout(() => {
      this.#line = this.#start();
    }, RESTART_MS);
  }

  async stop(): Promise<void> {
    this.#isStopping = true;
    if (this.#restart !== null) clearTimeout(this.#restart);
    if (this.#line === null) return;
    const patience = new Promise((resolve) => setTimeout(resolve, STOP_MS).unref());
    await Promise.race([this.#call({ do: 'stop' }).catch(() => undefined), patience]);
    await this.#line?.end();
  }
}
