/** The figures of the running gateway as `/metrics` shows them. */
import type { Metric } from './api/deps.js';
import type { EngineFigures } from './engine/protocol.js';
import type { ContactReport } from './intake/contacts.js';
import type { IntakeFigures } from './intake/intake.js';

export interface GatewayFigures {
  readonly intake: IntakeFigures;
  /** null until its first report */
  readonly engine: EngineFigures | null;
  /** since when alarms flood, ms; null: they do not */
  readonly floodSince: number | null;
  /** added to the wall clock since a person let the gateway go on, ms */
  readonly clockOffsetMs: number;
  /** who published what, and who was turned away */
  contacts(topics: ReadonlySet<string>): ContactReport;
}

export function makeMetrics(figures: GatewayFigures, isReady: boolean): Metric[] {
  const { intake, engine } = figures;
  const counters: [name: string, help: string, value: number][] = [
    ['messages_received', 'Publishes that came in.', intake.received],
    ['messages_acknowledged', 'Publishes answered after their commit.', intake.acknowledged],
    ['messages_denied', 'Publishes to topics that their client may not use.', intake.denied],
    ['clients_cut', 'Connections that the gateway ended.', intake.cut],
    ['batches', 'Batches committed.', engine?.batches ?? 0],
    [
      'messages_refused',
      'Messages that could not be read or belong to nothing configured.',
      engine?.refused ?? 0,
    ],
    [
      'messages_refused_not_kept',
      'Refused messages of which the quarantine keeps no copy.',
      engine?.refusedNotKept ?? 0,
    ],
    ['commit_failures', 'Transactions that failed and were rolled back.', engine?.failures ?? 0],
  ];
  const gauges: [name: string, help: string, value: number, unit?: string][] = [
    ['ready', '1 when messages are taken in and stored.', isReady ? 1 : 0],
    ['clients', 'MQTT clients connected.', intake.clients],
    ['pending_bytes', 'Bytes that wait for their commit.', intake.pendingBytes, 'bytes'],
    ['publications_under_way', 'Publications not delivered yet.', intake.publicationsUnderWay],
    [
      'commit_wait_seconds',
      'Age of the batch that waits for its commit.',
      intake.waitingMs / 1000,
      'seconds',
    ],
    [
      'last_commit_seconds',
      'Time of the last commit, since the epoch.',
      (engine?.lastCommitAt ?? 0) / 1000,
      'seconds',
    ],
  ];
  const busy = { name: 'engine_busy_seconds', help: 'Time the engine spent on its work.', unit: 'seconds' };
  return [
    ...counters.map(([name, help, value]): Metric => ({ name, help, type: 'counter', values: [{ value }] })),
    { ...busy, type: 'counter', values: [{ value: (engine?.busyMs ?? 0) / 1000 }] },
    ...gauges.map(([name, help, value, unit]): Metric => ({
      ...{ name, help, type: 'gauge', values: [{ value }] },
      ...(unit === undefined ? {} : { unit }),
    })),
  ];
}
