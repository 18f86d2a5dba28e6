/** How the main thread answers the HTTP interface: from what it knows by heart, or by handing on to the engine and the desks. */
import type { Metric } from '../../api/deps.js';
import type { Gateway } from '../../gateway.js';
import { makeNotifyMetrics } from '../../notify/notify-metrics.js';
import type { StationForwardDesk } from '../forward-desk.js';
import type { StationNotifyDesk } from '../notify-desk.js';
import type { StationPlc } from '../plc-desk.js';
import type { Answers, MainFigures } from './protocol.js';

export interface MainParts {
  readonly gateway: Gateway;
  readonly notify: StationNotifyDesk;
  readonly forward: StationForwardDesk;
  readonly plc: Pick<StationPlc, 'rows'>;
  /** figures of other rooms */
  metrics(this: void): readonly Metric[];
}

export function makeAnswers({ gateway, notify, forward, plc, metrics }: MainParts): Answers {
  return {
    standing: () => ({
      floodSince: gateway.figures().floodSince,
      ownAlarms: gateway.ownAlarms(),
      unreadyReasons: gateway.ready().reasons,
    }),
    figures: () => readFigures(gateway),
    contacts: (topics) => gateway.figures().contacts(new Set(topics)),
    metrics: () => [
      ...gateway.metrics(),
      ...makeNotifyMetrics(notify.status()),
      ...forward.metrics(),
      ...metrics(),
    ],
    notifyStatus: () => notify.status(),
    notifyTest: (route) => notify.test(route),
    sinks: () => forward.status(),
    sinkLedger: (sink) => forward.ledger(sink),
    sinkRetry: (sink) => forward.retry(sink),
    sinkTest: (sink) => forward.test(sink),
    sinkBackfill: ({ sink, order }) => forward.backfill(sink, order),
    plc: (config) => plc.rows(config),
    operate: (wish) => gateway.operate(wish),
    maintain: (wish) => gateway.maintain(wish),
    keepRun: async ([place, json, entry, checks]) => {
      const entries = entry === null ? [] : [{ subject: entry.motor, who: entry.who, text: entry.text }];
      await gateway.keep({ key: `commissioning/${place}`, json, notes: [], checks, entries });
      return null;
    },
    backup: (path) => gateway.backup(path),
    trustClock: async (who) => {
      await gateway.trustClock(who);
      return null;
    },
  };
}

function readFigures(gateway: Gateway): MainFigures {
  const { intake, engine, clockOffsetMs } = gateway.figures();
  const lastCommitAt = engine?.lastCommitAt ?? 0;
  return {
    ...{ clients: intake.clients, received: intake.received, acknowledged: intake.acknowledged },
    ...{ denied: intake.denied, cut: intake.cut, refused: engine?.refused ?? 0 },
    ...{ pendingBytes: intake.pendingBytes, commitWaitMs: intake.waitingMs, clockOffsetMs },
    lastCommitAt: lastCommitAt === 0 ? null : Math.floor(lastCommitAt),
    commitFailures: engine?.failures ?? 0,
    clockDoubt: engine?.clockDoubt ?? null,
  };
}
