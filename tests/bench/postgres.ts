/**
 * How fast rollups go into a PostgreSQL on this machine: through the sink, and through the bare client library doing the same
 * merge. `copy`: the library is handed text that was made beforehand, so what the sink adds is all of the difference.
 * `arrays`: one array for each column as parameters, which is what the library offers without a COPY of one's own.
 */
import { createHash } from 'node:crypto';
import { Client } from 'pg';
import { toCells } from '../../src/forward/postgres/cells.js';
import { copyBatch } from '../../src/forward/postgres/batch.js';
import { copyToStaging, createStaging, mergeStaging } from '../../src/forward/postgres/merge.js';
import { openPostgresSink } from '../../src/forward/postgres/postgres-sink.js';
import { Session } from '../../src/forward/postgres/session.js';
import { TABLES } from '../../src/forward/postgres/tables.js';
import type { SinkRecord } from '../../src/forward/sink.js';
import { makeParts } from '../forward/made-records.js';
import { rollupRecord, rollupRow } from '../forward/sample-records.js';
import { startCluster, SUPERUSER, type Cluster } from '../support/postgres-cluster.js';
import { spreadOf, type Spread } from './spread.js';
import { formatCount, formatTable } from './table.js';

const SITE = 'bench';
const SCHEMA = 'tallypost';
const DAY = Date.UTC(2026, 2, 2);
const SENSORS = 50;
const BATCH = 2_000;
const PATIENCE_MS = 120_000;

export interface PostgresWishes {
  /** folder of initdb and postgres */
  readonly bin: string;
  readonly rounds: number;
  readonly rows: number;
}

export interface PostgresResult {
  readonly rounds: number;
  readonly rows: number;
  readonly perSecond: { readonly sink: Spread; readonly copy: Spread; readonly arrays: Spread };
  /** of the sink to the bare library, round by round */
  readonly ratio: { readonly copy: Spread; readonly arrays: Spread };
  /** of what the server holds afterwards; the same for all three */
  readonly hash: string;
}

type Way = 'sink' | 'copy' | 'arrays';
const WAYS: readonly Way[] = ['sink', 'copy', 'arrays'];

const soon = (): AbortSignal => AbortSignal.timeout(PATIENCE_MS);
const adviceOf = makeParts().adviceOf;

/** Rounds in turn, each into empty tables. Throws when one of the ways stored something else than the others. */
export async function measurePostgres({ bin, rounds, rows }: PostgresWishes): Promise<PostgresResult> {
  const cluster = await startCluster(bin);
  try {
    const records = Array.from({ length: rows }, (_, i) => {
      const [sensor, minute] = [`motor-${1 + (i % SENSORS)}/de`, Math.floor(i / SENSORS)];
      return rollupRecord(rollupRow(sensor, DAY + minute * 60_000, 0), true);
    });
    const batches = Array.from({ length: Math.ceil(rows / BATCH) }, (_, i) =>
      records.slice(i * BATCH, (i + 1) * BATCH),
    );
    const figures: Record<Way, number[]> = { sink: [], copy: [], arrays: [] };
    const hashes = new Set<string>();
    await prepare(cluster);
    for (let round = 0; round < rounds; round++)
      for (let turn = 0; turn < WAYS.length; turn++) {
        const way = WAYS[(round + turn) % WAYS.length]!;
        await empty(cluster);
        const seconds = await RUN[way](cluster, batches);
        figures[way].push(rows / seconds);
        hashes.add(await hashHeld(cluster));
      }
    if (hashes.size !== 1) throw new Error(`the server does not hold the same: ${[...hashes].join(', ')}`);
    const against = (way: Way): Spread => spreadOf(figures.sink.map((value, i) => value / figures[way][i]!));
    return {
      ...{ rounds, rows, hash: [...hashes][0]! },
      perSecond: {
        ...{ sink: spreadOf(figures.sink), copy: spreadOf(figures.copy), arrays: spreadOf(figures.arrays) },
      },
      ratio: { copy: against('copy'), arrays: against('arrays') },
    };
  } finally {
    await cluster.remove();
  }
}

const settingsOf = ({ port }: Cluster) => ({
  ...{
    kind: 'postgres' as const,
    url: `postgresql://127.0.0.1:${port}/postgres`,
    encryption: 'none' as const,
  },
  ...{ user: SUPERUSER, schema: SCHEMA, hypertables: 'auto' as const, verifyServer: true },
  deadlineMs: PATIENCE_MS,
});

async function prepare(cluster: Cluster): Promise<void> {
  await openPostgresSink(settingsOf(cluster), makeParts({ site: SITE })).prepare!(soon());
}

async function empty(cluster: Cluster): Promise<void> {
  const client = await cluster.connect();
  await client.query(`TRUNCATE ${SCHEMA}.rollups`);
  await client.query('CHECKPOINT');
  await client.end();
}

async function hashHeld(cluster: Cluster): Promise<string> {
  const client = await cluster.connect();
  const columns = TABLES.rollups.columns.map(({ name }) => name).join(', ');
  const { rows } = await client.query<{ row: string }>(
    `SELECT ROW(${columns})::text AS row FROM ${SCHEMA}.rollups ORDER BY sensor, period, start`,
  );
  await client.end();
  const hash = createHash('sha256');
  for (const { row } of rows) hash.update(row);
  return `${hash.digest('hex').slice(0, 16)}/${rows.length}`;
}

async function time(work: () => Promise<void>): Promise<number> {
  const began = performance.now();
  await work();
  return (performance.now() - began) / 1_000;
}

const RUN: Readonly<Record<Way, (cluster: Cluster, batches: readonly SinkRecord[][]) => Promise<number>>> = {
  sink: async (cluster, batches) => {
    const sink = openPostgresSink(settingsOf(cluster), makeParts({ site: SITE }));
    await sink.open(soon());
    const seconds = await time(async () => {
      for (const batch of batches) {
        const sent = await sink.send(batch, soon());
        if (sent.outcome !== 'taken') throw new Error(sent.reason);
      }
    });
    await sink.close();
    return seconds;
  },
  copy: async (cluster, batches) => {
    const place = { host: '127.0.0.1', port: cluster.port, database: 'postgres', user: SUPERUSER };
    const session = await Session.open(
      { ...place, password: '', tls: null, statementTimeoutMs: PATIENCE_MS },
      soon(),
    );
    await session.ask(createStaging('rollups'), soon());
    const chunks = batches.map((batch) => [Buffer.concat([...copyBatch(batch, adviceOf)[0]!.chunks])]);
    const text = [copyToStaging('rollups'), ...mergeStaging(SCHEMA, 'rollups', SITE, null)].join('; ');
    const seconds = await time(async () => {
      for (const chunk of chunks) await session.copy(text, [chunk], soon());
    });
    await session.close();
    return seconds;
  },
  arrays: async (cluster, batches) => {
    const client = new Client({
      host: '127.0.0.1',
      port: cluster.port,
      database: 'postgres',
      user: SUPERUSER,
    });
    await client.connect();
    const { columns } = TABLES.rollups;
    const names = columns.map(({ name }) => `"${name}"`).join(', ');
    const casts = columns.map(({ type }, i) => `$${i + 1}::${type}[]`).join(', ');
    const sets = columns.slice(3).map(({ name }) => `"${name}" = excluded."${name}"`);
    const text =
      `INSERT INTO ${SCHEMA}.rollups AS t (site, ${names}) SELECT '${SITE}', * FROM unnest(${casts}) ` +
      `ON CONFLICT (site, sensor, period, start) DO UPDATE SET ${sets.join(', ')} WHERE excluded.revision > t.revision`;
    const seconds = await time(async () => {
      for (const batch of batches) {
        const rows = batch.map((record) => toCells(record, adviceOf));
        await client.query({ name: 'merge', text, values: columns.map((_, i) => rows.map((row) => row[i])) });
      }
    });
    await client.end();
    return seconds;
  },
};

export function formatPostgres(result: PostgresResult): string {
  const { perSecond, ratio } = result;
  const line = (what: string, speed: Spread, of: Spread | null): string[] => [
    ...[what, formatCount(speed.median), `${formatCount(speed.least)} to ${formatCount(speed.most)}`],
    of === null ? '-' : `${of.median.toFixed(2)} (${of.least.toFixed(2)} to ${of.most.toFixed(2)})`,
  ];
  return formatTable([
    ['into PostgreSQL', 'rollups/s', 'least to most', 'sink against it'],
    line('the sink', perSecond.sink, null),
    line('library, same merge, text made beforehand', perSecond.copy, ratio.copy),
    line('library, arrays as parameters', perSecond.arrays, ratio.arrays),
  ]);
}
