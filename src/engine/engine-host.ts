/**
 * The engine as the main thread sees it: a thread of its own, started again when it dies; or, where the sources run
 * uncompiled and in tests that bring their own parts, in this thread behind the same messages.
 */
import { Worker, type ResourceLimits } from 'node:worker_threads';
import { Clock, SYSTEM_CLOCK, type ClockSources } from './clock.js';
import { CORE, type EngineCore } from './engine-core.js';
import type { EngineStore } from './engine-store.js';
import { Engine } from './engine.js';
import { recordHalt, tellHalt, type Halt } from './gateway-alarm.js';
import type { Call, CallFault, EngineSettings, FromEngine, ToEngine } from './protocol.js';
import { openEngineStore } from './store-adapter.js';

/** Parts of an engine that runs in the caller's thread; those left out are the real ones. */
export interface InlineParts {
  readonly core?: EngineCore<unknown>;
  readonly clock?: ClockSources;
  openStore?(): EngineStore;
}

export interface HostWishes extends EngineSettings {
  /** null: a thread of its own, where the program is compiled */
  readonly inline: InlineParts | null;
  onMessage(message: FromEngine): void;
}

/** A call that the engine refused or could not do. */
export class CallError extends Error {
  readonly code: string;
  readonly hint: string;

  constructor(fault: CallFault) {
    super(fault.message);
    this.code = fault.code;
    this.hint = fault.hint;
  }
}

const RESTART_LEAST_MS = 500;
const RESTART_MOST_MS = 30_000;
/** A thread that lived so long did not die at birth. */
const LIVED_MS = 60_000;
const STOP_PATIENCE_MS = 30_000;

interface Line {
  post(message: ToEngine, transfer: readonly ArrayBuffer[]): void;
  end(this: void): Promise<void>;
}

export class EngineHost {
  readonly #wishes: HostWishes;
  #settings: EngineSettings;
  #line: Line | null = null;
  readonly #calls = new Map<number, { resolve: (value: unknown) => void; reject: (error: Error) => void }>();
  #nextCall = 1;
  #restartMs = RESTART_LEAST_MS;
  #restart: NodeJS.Timeout | null = null;
  #isStopping = false;
  #wantsOutbound = false;
  /** the thread ended, and no other one has said yet that it is ready */
  #died: Halt | null = null;

  constructor(wishes: HostWishes) {
    this.#wishes = wishes;
    this.#settings = wishes;
    this.#start();
  }

  post(message: ToEngine, transfer: readonly ArrayBuffer[] = []): void {
    if (message.kind === 'interest') this.#wantsOutbound = message.outbound;
    this.#line?.post(message, transfer);
  }

  /** Rejects with `CallError`. */
  call(call: Call): Promise<unknown> {
    const line = this.#line;
    if (line === null) return Promise.reject(new CallError(ENGINE_GONE));
    const id = this.#nextCall++;
    return new Promise((resolve, reject) => {
      this.#calls.set(id, { resolve, reject });
      line.post({ kind: 'call', id, call }, []);
    }).then((value) => {
      if (call.do === 'reload') this.#settings = { ...this.#settings, plan: call.plan };
      return value;
    });
  }

  /** Commits what waits, closes the store, ends the thread. */
  async stop(): Promise<void> {
    this.#isStopping = true;
    if (this.#restart !== null) clearTimeout(this.#restart);
    if (this.#line === null) return;
    const patience = new Promise((resolve) => setTimeout(resolve, STOP_PATIENCE_MS).unref());
    await Promise.race([this.call({ do: 'stop' }).catch(() => undefined), patience]);
    await this.#line?.end();
    this.#line = null;
  }

  #start(): void {
    const { inline } = this.#wishes;
    const isCompiled = import.meta.url.endsWith('.js');
    this.#line = inline !== null || !isCompiled ? this.#startInline(inline ?? {}) : this.#startThread();
    if (this.#wantsOutbound) this.#line.post({ kind: 'interest', outbound: true }, []);
  }

  #receive(message: FromEngine): void {
    if (message.kind === 'ready' && this.#died !== null) {
      const over = tellHalt(this.#settings.plan.site, this.#died, true);
      this.#died = null;
      this.#wishes.onMessage({ ...message, alarms: [...message.alarms, over] });
      return;
    }
    if (message.kind !== 'answer') {
      this.#wishes.onMessage(message);
      return;
    }
    const call = this.#calls.get(message.id);
    this.#calls.delete(message.id);
    if (message.fault === null) call?.resolve(message.value);
    else call?.reject(new CallError(message.fault));
  }

  #startThread(): Line {
    const startedAt = performance.now();
    const { dataDir, plan, minCommitIntervalMs, storage, forwards = false } = this.#settings;
    const settings: EngineSettings = { dataDir, plan, minCommitIntervalMs, storage, forwards };
    const worker = new Worker(new URL('./worker.js', import.meta.url), {
      workerData: settings,
      resourceLimits: limitHeap(plan.sensors.size),
    });
    let fault = '';
    worker.on('message', (message: FromEngine) => this.#receive(message));
    worker.on('error', (error) => {
      fault = error instanceof Error ? (error.stack ?? error.message) : String(error);
    });
    worker.on('exit', (code) => {
      if (!this.#isStopping)
        this.#restartLater(fault === '' ? `exit code ${code}` : fault, performance.now() - startedAt);
    });
    return {
      post: (message, transfer) => worker.postMessage(message, [...transfer]),
      end: async () => void (await worker.terminate()),
    };
  }

  #restartLater(fault: string, livedMs: number): void {
    this.#line = null;
    for (const { reject } of this.#calls.values()) reject(new CallError(ENGINE_GONE));
    this.#calls.clear();
    if (livedMs > LIVED_MS) this.#restartMs = RESTART_LEAST_MS;
    this.#wishes.onMessage({
      kind: 'notice',
      level: 'error',
      facts: { fault },
      text: 'the engine ended; it is started again',
    });
    const reason = 'the engine ended and is started again';
    this.#died ??= { cause: 'storage-failed', reason, at: Date.now() };
    const alarm = tellHalt(this.#settings.plan.site, this.#died, false);
    this.#wishes.onMessage({ kind: 'halted', reason, alarm, record: recordHalt(this.#died, false) });
    this.#restart = setTimeout(() => this.#start(), this.#restartMs);
    this.#restartMs = Math.min(RESTART_MOST_MS, this.#restartMs * 2);
  }

  #startInline(parts: InlineParts): Line {
    const settings = this.#settings;
    let isOpen = true;
    const engine = new Engine<unknown>({
      plan: settings.plan,
      core: parts.core ?? CORE,
      clock: new Clock(parts.clock ?? SYSTEM_CLOCK),
      minCommitIntervalMs: settings.minCommitIntervalMs,
      openStore: () => (parts.openStore === undefined ? openEngineStore(settings) : parts.openStore()),
      post: (message) => setImmediate(() => this.#receive(message)),
    });
    setImmediate(() => engine.start());
    return {
      post: (message) => setImmediate(() => isOpen && engine.receive(message)),
      end: () => {
        isOpen = false;
        return Promise.resolve();
      },
    };
  }
}

/**
 * Bounds of the engine's heap. It lives on some 70 KB a sensor, so the outer one is far away; but without it the collector
 * lets garbage grow to four times what lives before it looks, and with it to one and a half times. The young part: with
 * 32 MB of it a reading took 4.6 us instead of 4.9, which is less than runs differ. `sensors`: how many are configured.
 */
function limitHeap(sensors: number): ResourceLimits {
  return { maxYoungGenerationSizeMb: 12, maxOldGenerationSizeMb: 512 + Math.ceil(sensors / 4) };
}

const ENGINE_GONE: CallFault = {
  message: 'the engine is not running',
  code: 'ENGINE_GONE',
  hint: 'It is started again by itself; look at the log when it does not come back.',
};
