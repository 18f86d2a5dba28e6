/** What the HTTP interface is given: readers of the store on this side, and the rest asked of the main thread. */
import type { AdviceReader } from '../../api/advice-reader.js';
import type { ChartsReader } from '../../api/charts-reader.js';
import type { ApiDeps, ApiReader, Rehearsals } from '../../api/deps.js';
import type { Plan } from '../../core/plan.js';
import type { MainCalls } from './main-calls.js';
import type { StationDesk } from './station-desk.js';

export interface WebParts {
  readonly version: string;
  readonly timeZone: string;
  readonly calls: MainCalls;
  readonly reader: ApiReader;
  readonly advice: AdviceReader;
  readonly charts: ChartsReader;
  readonly rehearsals: Rehearsals;
  readonly desk: StationDesk;
  readonly subscribeLive: ApiDeps['subscribeLive'];
  plan(): Plan;
  now(): number;
  log(facts: object, text: string): void;
}

export function makeDeps(parts: WebParts): ApiDeps {
  const { version, timeZone, calls, reader, advice, charts, rehearsals, desk, subscribeLive } = parts;
  return {
    ...{ version, timeZone, reader, advice, charts, rehearsals, station: desk, subscribeLive },
    plan: () => parts.plan(),
    now: () => parts.now(),
    standing: () => calls.ask('standing', null),
    metrics: () => calls.ask('metrics', null),
    operate: (wish) => calls.ask('operate', wish),
    maintain: (wish) => calls.ask('maintain', wish),
    backup: (path) => calls.ask('backup', path),
    trustClock: async (who) => void (await calls.ask('trustClock', who)),
    commissioning: {
      keep: async (...run) => void (await calls.ask('keepRun', run)),
    },
    notify: {
      status: () => calls.ask('notifyStatus', null),
      test: (route) => calls.ask('notifyTest', route),
    },
    forward: {
      status: () => calls.ask('sinks', null),
      ledger: (sink) => calls.ask('sinkLedger', sink),
      retry: (sink) => calls.ask('sinkRetry', sink),
      test: (sink) => calls.ask('sinkTest', sink),
      backfill: (sink, order) => calls.ask('sinkBackfill', { sink, order }),
    },
    logFault: (error, requestId) => parts.log({ err: error, requestId }, 'a request failed'),
  };
}
