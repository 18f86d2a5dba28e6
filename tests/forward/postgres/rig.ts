/** A sink `postgres` on a server of the test's own, and looks at what the server holds. */
import type { Client } from 'pg';
import { openPostgresSink, type PostgresSettings } from '../../../src/forward/postgres/postgres-sink.js';
import type { Sink, SinkRecord, Sent } from '../../../src/forward/sink.js';
import type { RollupRow } from '../../../src/store/rollup-row.js';
import { SUPERUSER } from '../../support/postgres-cluster.js';
import { makeParts } from '../made-records.js';
import { MOTORS, SENSORS } from '../sample-records.js';

export const SITE = 'tarn-hollow';
export const SCHEMA = 'tallypost';

export function within(ms: number): AbortSignal {
  return AbortSignal.timeout(ms);
}

export function makeSink(
  port: number,
  change: Partial<PostgresSettings> = {},
  secrets: Readonly<Record<string, string>> = {},
): Sink {
  const settings: PostgresSettings = {
    ...{ kind: 'postgres', url: `postgresql://127.0.0.1:${port}/postgres`, encryption: 'none' },
    ...{ user: SUPERUSER, schema: SCHEMA, hypertables: 'auto', verifyServer: true, deadlineMs: 12_000 },
    ...change,
  };
  const parts = makeParts({
    ...{ name: 'plant-db', site: SITE, sensors: SENSORS, motors: MOTORS },
    secrets: new Map(Object.entries(secrets)),
  });
  return openPostgresSink(settings, parts);
}

/** Prepared and open. */
export async function startSink(...args: Parameters<typeof makeSink>): Promise<Sink> {
  const sink = makeSink(...args);
  await sink.prepare!(within(10_000));
  await sink.open(within(10_000));
  return sink;
}

/** As the forwarder does it: what says later is closed and opened before it is asked again. */
export async function reopen(sink: Sink, ms = 5_000): Promise<void> {
  await sink.close();
  await sink.open(within(ms));
}

/** In batches as large as the sink takes; throws when one is not taken. */
export async function sendAll(sink: Sink, records: readonly SinkRecord[]): Promise<void> {
  for (let i = 0; i < records.length; i += sink.recordsMost) {
    const sent: Sent = await sink.send(records.slice(i, i + sink.recordsMost), within(20_000));
    if (sent.outcome !== 'taken') throw new Error(`${sent.outcome}: ${sent.reason}`);
  }
}

/** One row of a rollup as the receiver has it, and as it should be. */
export interface Held {
  readonly key: string;
  readonly revision: number;
  readonly pulses: number;
  readonly ms: number;
}

const sum = (numbers: readonly number[]): number => numbers.reduce((a, b) => a + b, 0);

export async function readRollups(client: Client, relation = 'rollups'): Promise<Held[]> {
  const classes = ['rejected', 'check', 'unattributed', 'transient', 'common', 'running', 'background'];
  const { rows } = await client.query<Record<string, unknown>>(
    `SELECT sensor || '|' || period || '|' || (extract(epoch FROM start) * 1000)::bigint AS key, revision,
      ${classes.map((name) => `pulses_${name}`).join(' + ')} AS pulses,
      ${classes.map((name) => `ms_${name}`).join(' + ')} AS ms FROM ${SCHEMA}.${relation}`,
  );
  return rows
    .map((row) => ({
      ...{ key: String(row['key']), revision: Number(row['revision']) },
      ...{ pulses: Number(row['pulses']), ms: Number(row['ms']) },
    }))
    .sort((a, b) => (a.key < b.key ? -1 : 1));
}

export function expectedHeld(rows: readonly RollupRow[]): Held[] {
  return rows
    .map((row) => ({
      ...{ key: `${row.sensor}|${row.period}|${row.start}`, revision: row.revision },
      ...{ pulses: sum(row.pulses), ms: sum(row.ms) },
    }))
    .sort((a, b) => (a.key < b.key ? -1 : 1));
}
