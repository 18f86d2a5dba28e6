/** The forwarder beside the gateway: started where sinks are configured, in a thread of its own, ended with them. */
import type { Logger } from 'pino';
import type { BackfillOrder, ForwardDesk } from '../api/forward-desk.js';
import type { Config } from '../config/config.js';
import type { Plan } from '../core/plan.js';
import { ForwardHost } from '../forward/forward-host.js';
import { makeForwardMetrics } from '../forward/forward-metrics.js';
import { codesOf } from '../forward/forwarder.js';
import { STREAMS } from '../forward/sink.js';
import { readForwardSettings } from '../gateway-forward.js';
import type { Gateway } from '../gateway.js';
import { STORED_PERIODS } from '../store/outbox-streams.js';

/** How the sinks stand is told to the core so often. */
const TELL_MS = 1_000;

export interface ForwardDeskWishes {
  readonly config: Config;
  readonly plan: Plan;
  readonly gateway: Pick<Gateway, 'followClock' | 'forwarded' | 'tellSinks'>;
  readonly dataDir: string;
  now(this: void): number;
  readonly log: Pick<Logger, 'info' | 'warn' | 'error'>;
}

/** As the HTTP interface asks for it, but that the status is at hand. */
type Desk = Omit<ForwardDesk, 'status'>;

export class StationForwardDesk implements Desk {
  readonly #host: ForwardHost | null;
  readonly #now: () => number;
  readonly #unfollow: () => void;

  /** Throws when a secret cannot be had. */
  constructor({ config, plan, gateway, dataDir, now, log }: ForwardDeskWishes) {
    this.#now = now;
    if (config.sinks.length === 0) {
      this.#host = null;
      this.#unfollow = () => undefined;
      return;
    }
    const { settings, warnings } = readForwardSettings(config, plan, dataDir);
    for (const warning of warnings) log.warn({}, warning);
    const host = new ForwardHost({
      settings,
      log: (level, facts, text) => log[level](facts, text),
      settled: (done) => gateway.forwarded(done),
    });
    this.#host = host;
    const unfollow = gateway.followClock((offsetMs) => host.followClock(offsetMs));
    const telling = setInterval(() => gateway.tellSinks(host.standings()), TELL_MS).unref();
    this.#unfollow = () => {
      clearInterval(telling);
      unfollow();
    };
  }

  status(): Awaited<ReturnType<ForwardDesk['status']>> {
    return this.#host?.status() ?? [];
  }

  metrics(): ReturnType<typeof makeForwardMetrics> {
    return makeForwardMetrics(this.#host?.status() ?? [], this.#now());
  }

  ledger(sink: string): ReturnType<ForwardDesk['ledger']> {
    return this.#running().ledger(sink);
  }

  retry(sink: string): Promise<number> {
    return this.#running().retry(sink);
  }

  test(sink: string): Promise<string | null> {
    return this.#running().test(sink);
  }

  backfill(sink: string, { from, to, streams, periods, subject }: BackfillOrder): Promise<number> {
    const codes = codesOf({ streams: streams ?? STREAMS, periods: periods ?? STORED_PERIODS });
    return this.#running().backfill(sink, { from, to, codes, subject });
  }

  #running(): ForwardHost {
    if (this.#host === null) throw new Error('No sink is configured.');
    return this.#host;
  }

  async stop(): Promise<void> {
    this.#unfollow();
    await this.#host?.stop();
  }
}
