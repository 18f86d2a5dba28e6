/** A PostgreSQL server of its own, with the tables that the sink's own preparation makes. */
import type { Client } from 'pg';
import { openPostgresSink } from '../../src/forward/postgres/postgres-sink.js';
import { STREAMS } from '../../src/forward/sink.js';
import { makeParts } from '../forward/made-records.js';
import { startCluster, SUPERUSER } from '../support/postgres-cluster.js';
import type { HeldRow, NetworkReceiver, ReceiverWishes } from './network-receiver.js';

const SCHEMA = 'tallypost';

/** The key of a record, as the forwarder writes it, from the columns of a row. */
export const KEY_COLUMNS = {
  rollups: `sensor || '|' || period || '|' || (extract(epoch FROM start) * 1000)::bigint`,
  transients: `motor || '|' || (extract(epoch FROM began_at) * 1000)::bigint`,
  alarms: 'id',
  journal: 'number::text',
  manifests: `sensor || '|' || period || '|' || (extract(epoch FROM day::timestamp AT TIME ZONE 'UTC') * 1000)::bigint`,
} as const;

/** `bin`: where the programs of the server are. */
export async function startPostgresReceiver(
  bin: string,
  { site, niceness }: ReceiverWishes,
): Promise<NetworkReceiver> {
  // processes die here, not the power
  const cluster = await startCluster(bin, { settings: ['fsync = off'], niceness });
  const ask = async <T>(work: (client: Client) => Promise<T>): Promise<T> => {
    const client = await cluster.connect();
    try {
      return await work(client);
    } finally {
      await client.end();
    }
  };
  const keys = (port: number) => ({
    kind: 'postgres' as const,
    url: `postgresql://127.0.0.1:${port}/postgres`,
    encryption: 'none' as const,
    ...{ user: SUPERUSER, schema: SCHEMA },
  });
  const settings = {
    ...keys(cluster.port),
    hypertables: 'auto',
    verifyServer: true,
    deadlineMs: 20_000,
  } as const;
  const sink = openPostgresSink(settings, makeParts({ site }));
  await sink.prepare!(AbortSignal.timeout(20_000));
  return {
    ...{ kind: 'postgres', port: cluster.port, keys },
    mortals: [{ name: 'server of postgres', kill: () => cluster.kill(), start: () => cluster.start() }],
    held: () => ask((client) => readHeld(client, site)),
    countArrivals: () => null,
    poison: (key) => ask((client) => forbid(client, key)),
    stop: () => cluster.remove(),
  };
}

async function readHeld(client: Client, site: string): Promise<HeldRow[]> {
  const held: HeldRow[] = [];
  for (const stream of STREAMS) {
    const { rows } = await client.query<{ key: string; revision: string; at: string }>(
      `SELECT ${KEY_COLUMNS[stream]} AS key, revision, (extract(epoch FROM received_at) * 1000)::bigint AS at
       FROM ${SCHEMA}.${stream} WHERE site = $1`,
      [site],
    );
    held.push(
      ...rows.map(({ key, revision, at }) => ({ stream, key, revision: Number(revision), at: Number(at) })),
    );
  }
  return held;
}

/** A rollup that a constraint of the site's own keeps out. */
async function forbid(client: Client, key: string | null): Promise<void> {
  const table = `ALTER TABLE ${SCHEMA}.rollups`;
  await client.query(`${table} DROP CONSTRAINT IF EXISTS site_rule`);
  if (key === null) return;
  const [sensor, period, start] = key.split('|') as [string, string, string];
  const rule = `sensor = '${sensor}' AND period = '${period}' AND start = to_timestamp(${Number(start) / 1_000})`;
  await client.query(`${table} ADD CONSTRAINT site_rule CHECK (NOT (${rule}))`);
}
