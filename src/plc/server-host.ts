/**
 * A server for PLC or HMI as the gateway sees it: a process of its own, fed with what is new, started again when it ends or
 * answers no more. Why a process: whatever a client or a package does there, intake has its own memory and its own core,
 * and the worst that can be done to this side is one message that is not taken.
 */
import { fork, type ChildProcess } from 'node:child_process';
import type { NewsBoard, NewsFeed } from './news-board.js';
import type { FromServer, ToServer } from './server-protocol.js';

export interface HostLog {
  info(facts: object, text: string): void;
  warn(facts: object, text: string): void;
  error(facts: object, text: string): void;
}

export interface HostWishes<Settings> {
  /** how people call it, e.g. `Modbus TCP` */
  readonly name: string;
  /** the built program of the process */
  readonly program: URL;
  readonly settings: Settings;
  readonly memoryMbMax: number;
  readonly board: NewsBoard;
  isReady(): boolean;
  isLoaded(): boolean;
  /** of the configuration that runs now, hex digits */
  revision(): string;
  /** what the gateway's clock adds to the machine's, ms */
  clockOffsetMs(): number;
  /** what the process asks of the gateway; rejects with a sentence */
  answer(wish: unknown): Promise<unknown>;
  readonly log: HostLog;
}

export interface HostStatus {
  readonly state: 'starting' | 'listening' | 'waiting' | 'stopped';
  /** null: it does not listen */
  readonly port: number | null;
  /** process number; null: there is none now */
  readonly pid: number | null;
  /** how often it was started again */
  readonly restarts: number;
  /** why it does not listen; '': it does, or it is starting */
  readonly fault: string;
  readonly figures: Readonly<Record<string, number>>;
}

const BEAT_MS = 2_000;
/** News within this time go together. */
const GATHER_MS = 50;
/** A beat that is not taken for so long: the process hangs. */
const TAKEN_MS = 30_000;
/** The same while it starts: reading its description of the world takes some a long time on a busy machine. */
const STARTED_MS = 180_000;
const RESTART_LEAST_MS = 500;
const RESTART_MOST_MS = 30_000;
/** A process that lived so long did not die at birth. */
const LIVED_MS = 60_000;
const STOP_PATIENCE_MS = 3_000;
const STDERR_MAX = 2_000;
/** Questions of the process that may be under way at once; more are refused there and then. */
const ASKS_MAX = 32;
/** Nothing of the environment that a server has no business with, such as passwords, goes to it. */
const ENVIRONMENT = ['PATH', 'HOME', 'TMPDIR', 'TZ', 'LANG'] as const;

export class ServerHost<Settings> {
  readonly #wishes: HostWishes<Settings>;
  #child: ChildProcess | null = null;
  #feed: NewsFeed | null = null;
  #nextBeat = 1;
  /** number and time of the beat under way; null: none */
  #beat: { id: number; at: number } | null = null;
  #gather: NodeJS.Timeout | null = null;
  #again: NodeJS.Timeout | null = null;
  readonly #ticker: NodeJS.Timeout;
  #delayMs = RESTART_LEAST_MS;
  #startedAt = 0;
  #asks = 0;
  #said = '';
  #fault = '';
  #port: number | null = null;
  #restarts = 0;
  #figures: Readonly<Record<string, number>> = {};
  #isStopped = false;

  constructor(wishes: HostWishes<Settings>) {
    this.#wishes = wishes;
    this.#ticker = setInterval(() => this.#tick(), BEAT_MS);
    this.#ticker.unref();
    this.#start();
  }

  status(): HostStatus {
    const state = this.#isStopped
      ? 'stopped'
      : this.#child === null
        ? 'waiting'
        : this.#port === null
          ? 'starting'
          : 'listening';
    const { pid } = this.#child ?? {};
    const [restarts, fault, figures] = [this.#restarts, this.#fault, this.#figures];
    return { state, port: this.#port, pid: pid ?? null, restarts, fault, figures };
  }

  /** Resolves when the process is gone. */
  async stop(): Promise<void> {
    this.#isStopped = true;
    clearInterval(this.#ticker);
    if (this.#again !== null) clearTimeout(this.#again);
    const child = this.#child;
    if (child === null) return;
    const gone = new Promise<void>((resolve) => child.once('exit', () => resolve()));
    this.#post({ kind: 'stop' });
    const timer = setTimeout(() => child.kill('SIGKILL'), STOP_PATIENCE_MS);
    await gone;
    clearTimeout(timer);
  }

  #start(): void {
    const { settings, board } = this.#wishes;
    this.#startedAt = performance.now();
    this.#said = '';
    const child = this.#fork();
    if (child === null) return;
    this.#child = child;
    child.stderr?.on('data', (chunk: Buffer) => {
      this.#said = (this.#said + chunk.toString('utf8')).slice(-STDERR_MAX);
    });
    child.on('message', (message) => this.#receive(child, message as FromServer));
    child.on('error', (error) => this.#lose(child, error.message));
    child.on('exit', (code, signal) => this.#lose(child, signal ?? `exit code ${code ?? 0}`));
    this.#post({ kind: 'start', settings });
    this.#feed = board.open(() => this.#gatherNews());
  }

  /** Null: the machine has none to give just now, which is told and tried again as when a process ends. */
  #fork(): ChildProcess | null {
    const { program, memoryMbMax } = this.#wishes;
    try {
      return fork(program, [], {
        execArgv: [`--max-old-space-size=${memoryMbMax}`],
        env: Object.fromEntries(ENVIRONMENT.flatMap((name) => pick(name))),
        stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
      });
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      this.#fault = `its process cannot be started (${reason})`;
      this.#lose(null, reason);
      return null;
    }
  }

  /** `child` null: it was never there. */
  #lose(child: ChildProcess | null, reason: string): void {
    if (this.#child !== child) return;
    this.#child = null;
    this.#feed?.close();
    this.#feed = null;
    this.#beat = null;
    this.#port = null;
    this.#asks = 0;
    if (this.#isStopped) return;
    const { name, log } = this.#wishes;
    if (performance.now() - this.#startedAt > LIVED_MS) this.#delayMs = RESTART_LEAST_MS;
    const delayMs = this.#delayMs;
    this.#delayMs = Math.min(2 * delayMs, RESTART_MOST_MS);
    if (this.#fault === '') this.#fault = `its process ended (${reason})`;
    const stderr = this.#said.trim();
    const facts = { reason, againInMs: delayMs, ...(stderr === '' ? {} : { stderr }) };
    log.error(facts, `${name} does not serve: ${this.#fault}. It is started again; intake goes on`);
    this.#again = setTimeout(() => {
      this.#restarts++;
      this.#start();
    }, delayMs);
    this.#again.unref();
  }

  #receive(child: ChildProcess, message: FromServer): void {
    if (this.#child !== child) return;
    const { name, log } = this.#wishes;
    switch (message.kind) {
      case 'listening':
        this.#port = message.port;
        this.#fault = '';
        log.info({ port: message.port }, message.says);
        return;
      case 'failed':
        this.#fault = message.says;
        return;
      case 'taken':
        if (this.#beat?.id === message.id) this.#beat = null;
        if (this.#feed?.isEmpty === false) this.#gatherNews();
        return;
      case 'said':
        log[message.level]({}, `${name}: ${message.text}`);
        return;
      case 'figures':
        this.#figures = message.figures;
        return;
      case 'ask':
        void this.#answer(child, message);
        return;
    }
  }

  async #answer(child: ChildProcess, { id, wish }: { id: number; wish: unknown }): Promise<void> {
    if (this.#asks >= ASKS_MAX) {
      this.#post({ kind: 'answer', id, value: null, fault: 'too many questions at once: ask again' });
      return;
    }
    this.#asks++;
    let value: unknown = null;
    let fault: string | null = null;
    try {
      value = await this.#wishes.answer(wish);
    } catch (error) {
      fault = error instanceof Error ? error.message : String(error);
    }
    if (this.#child !== child) return;
    this.#asks--;
    this.#post({ kind: 'answer', id, value, fault });
  }

  #gatherNews(): void {
    this.#gather ??= setTimeout(() => {
      this.#gather = null;
      this.#send();
    }, GATHER_MS).unref();
  }

  #tick(): void {
    const patienceMs = this.#port === null ? STARTED_MS : TAKEN_MS;
    if (this.#beat !== null && performance.now() - this.#beat.at > patienceMs) {
      this.#fault = `its process took nothing for ${patienceMs / 1000} s and was ended`;
      this.#child?.kill('SIGKILL');
      return;
    }
    this.#send();
  }

  /** One beat at a time. */
  #send(): void {
    if (this.#beat !== null || this.#feed === null) return;
    const id = this.#nextBeat++;
    this.#beat = { id, at: performance.now() };
    const [isReady, isLoaded] = [this.#wishes.isReady(), this.#wishes.isLoaded()];
    const [revision, clockOffsetMs] = [this.#wishes.revision(), this.#wishes.clockOffsetMs()];
    this.#post({ kind: 'beat', id, isReady, isLoaded, revision, clockOffsetMs, news: this.#feed.drain() });
  }

  #post(message: ToServer<Settings>): void {
    const child = this.#child;
    if (child?.connected !== true) return;
    // a channel that broke is told by the end of the process
    child.send(message, () => undefined);
  }
}

function pick(name: string): [string, string][] {
  const value = process.env[name];
  return value === undefined ? [] : [[name, value]];
}
