/** The forwarder on real files and real sinks, behind messages: in a thread of its own, or where the sources run uncompiled. */
import { OutboxReader } from '../store/outbox-reader.js';
import { openReader } from '../store/reader.js';
import { makeGatewayClock, type ForwardClock } from './clock.js';
import { openForwardDatabase } from './forward-database.js';
import { Forwarder } from './forwarder.js';
import type { ForwardCall, ForwardSettings, FromForwarder, ToForwarder } from './protocol.js';
import { openSink } from './registry.js';

const STATUS_MS = 1_000;
const OPEN_AGAIN_MS = 2_000;
const NO_ADVICE = { consequence: '', action: '', rationale: '', class: '', timeToRespondMs: null };

export class RunningForwarder {
  readonly #settings: ForwardSettings;
  readonly #post: (message: FromForwarder) => void;
  readonly #clock: ForwardClock;
  #clockOffsetMs: number;
  #forwarder: Forwarder | null = null;
  #timer: NodeJS.Timeout;

  constructor(settings: ForwardSettings, post: (message: FromForwarder) => void) {
    this.#settings = settings;
    this.#post = post;
    this.#clockOffsetMs = settings.clockOffsetMs;
    this.#clock = makeGatewayClock(() => this.#clockOffsetMs);
    this.#timer = setTimeout(() => this.#start(), 0);
  }

  /** Until the store can be read, it tries again; what an attempt opened is closed with it. */
  #start(): void {
    const opened: { close(): void }[] = [];
    try {
      const forwarder = this.#open(opened);
      forwarder.start();
      this.#forwarder = forwarder;
    } catch (error) {
      for (const one of opened.reverse()) one.close();
      const says = error instanceof Error ? error.message : String(error);
      this.#log('warn', { reason: says }, 'forwarding cannot begin yet: it is tried again');
      this.#timer = setTimeout(() => this.#start(), OPEN_AGAIN_MS);
      return;
    }
    this.#timer = setInterval(() => this.#tell(), STATUS_MS);
  }

  #open(opened: { close(): void }[]): Forwarder {
    const { dataDir, advice, site, sensors, motors, sinks } = this.#settings;
    const outbox = new OutboxReader(openReader(dataDir));
    opened.push(outbox);
    if (outbox.epoch() === 0) throw new Error('the engine has not begun the outbox yet');
    const { db, setAside } = openForwardDatabase(dataDir);
    opened.push(db);
    if (setAside !== null) {
      const text = 'the record of what was forwarded was damaged: all that is in the outbox is sent again';
      this.#log('error', { file: setAside }, text);
    }
    return new Forwarder({
      ...{ sinks, site, sensors, motors, db, outbox, clock: this.#clock, openSink, random: Math.random },
      adviceOf: (alarm) => advice.get(alarm) ?? NO_ADVICE,
      log: (level, facts, text) => this.#log(level, facts, text),
      settled: (done) => this.#post({ kind: 'settled', done }),
    });
  }

  #log(level: 'info' | 'warn' | 'error', facts: object, text: string): void {
    this.#post({ kind: 'log', level, facts, text });
  }

  #tell(): void {
    if (this.#forwarder !== null) this.#post({ kind: 'status', status: this.#forwarder.status() });
  }

  receive({ id, call }: ToForwarder): void {
    this.#run(call).then(
      (value) => this.#post({ kind: 'answer', id, value, fault: null }),
      (error: unknown) =>
        this.#post({
          ...{ kind: 'answer', id, value: null },
          fault: error instanceof Error ? error.message : String(error),
        }),
    );
  }

  async #run(call: ForwardCall): Promise<unknown> {
    if (call.do === 'stop') {
      clearTimeout(this.#timer);
      await this.#forwarder?.stop();
      return null;
    }
    if (call.do === 'follow-clock') {
      this.#clockOffsetMs = call.offsetMs;
      return null;
    }
    if (this.#forwarder === null) throw new Error('Forwarding has not begun yet. Ask again in a moment.');
    switch (call.do) {
      case 'ledger':
        return this.#forwarder.ledger(call.sink);
      case 'retry':
        return this.#forwarder.retry(call.sink);
      case 'test':
        return this.#forwarder.test(call.sink);
      case 'backfill':
        return this.#forwarder.backfill(call.sink, call.wish);
    }
  }
}
