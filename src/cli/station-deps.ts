/** What the HTTP interface is given of a station. */
import type { Logger } from 'pino';
import type { AdviceReader } from '../api/advice-reader.js';
import type { ChartsReader } from '../api/charts-reader.js';
import type { ApiDeps, ApiReader, Metric, Rehearsals } from '../api/deps.js';
import type { Gateway } from '../gateway.js';
import { makeNotifyMetrics } from '../notify/notify-metrics.js';
import type { ForwardDesk } from '../api/forward-desk.js';
import type { StationNotifyDesk } from './notify-desk.js';
import type { StationDesk } from './station-desk.js';

export interface StationParts {
  readonly version: string;
  readonly timeZone: string;
  readonly gateway: Gateway;
  readonly reader: ApiReader;
  readonly advice: AdviceReader;
  readonly charts: ChartsReader;
  readonly rehearsals: Rehearsals;
  readonly notify: StationNotifyDesk;
  readonly forward: ForwardDesk;
  readonly desk: StationDesk;
  readonly log: Logger;
  /** figures of other rooms */
  metrics(): readonly Metric[];
}

export function makeDeps(parts: StationParts): ApiDeps {
  const { version, timeZone, gateway, reader, advice, charts, rehearsals, notify, forward, desk, log } =
    parts;
  return {
    ...{ version, timeZone, reader, advice, charts, rehearsals, notify, forward, station: desk },
    plan: () => gateway.plan(),
    floodSince: () => gateway.figures().floodSince,
    commissioning: {
      keep: (place, json, entry, checks) =>
        gateway.keep({
          ...{ key: `commissioning/${place}`, json, notes: [], checks },
          entries: entry === null ? [] : [{ subject: entry.motor, who: entry.who, text: entry.text }],
        }),
    },
    subscribeLive: (listener) => gateway.subscribeLive(listener),
    operate: (wish) => gateway.operate(wish),
    ownAlarms: () => gateway.ownAlarms(),
    maintain: (wish) => gateway.maintain(wish),
    backup: (path) => gateway.backup(path),
    unreadyReasons: () => gateway.ready().reasons,
    metrics: () => [...gateway.metrics(), ...makeNotifyMetrics(notify.status()), ...parts.metrics()],
    now: () => gateway.now(),
    logFault: (error, requestId) => log.error({ err: error, requestId }, 'a request failed'),
  };
}
