/** The suite of the sinks, run on `postgres` against a real server. Needs postgresql. */
import { it } from 'vitest';
import { STREAMS } from '../../../src/forward/sink.js';
import { findPostgres, startCluster, WITHOUT_POSTGRES } from '../../support/postgres-cluster.js';
import { describeSink, type Held } from '../sink-contract.js';
import { makeSink, SCHEMA, SITE } from './rig.js';

/** The key of a record, as the forwarder writes it, from the columns of a row. */
const KEYS = {
  rollups: `sensor || '|' || period || '|' || (extract(epoch FROM start) * 1000)::bigint`,
  transients: `motor || '|' || (extract(epoch FROM began_at) * 1000)::bigint`,
  alarms: 'id',
  journal: 'number::text',
  manifests: `sensor || '|' || period || '|' || (extract(epoch FROM day::timestamp AT TIME ZONE 'UTC') * 1000)::bigint`,
} as const;

const bin = findPostgres();
if (bin === null) it(WITHOUT_POSTGRES, () => console.warn(WITHOUT_POSTGRES));
else
  describeSink('postgres', async () => {
    const cluster = await startCluster(bin, { settings: ['fsync = off'] });
    return {
      makeSink: () => makeSink(cluster.port),
      held: async () => {
        const client = await cluster.connect();
        const held: Held[] = [];
        for (const stream of STREAMS) {
          const { rows } = await client.query<{ key: string; revision: string }>(
            `SELECT ${KEYS[stream]} AS key, revision FROM ${SCHEMA}.${stream} WHERE site = '${SITE}'`,
          );
          held.push(...rows.map(({ key, revision }) => ({ stream, key, revision: Number(revision) })));
        }
        await client.end();
        return held;
      },
      kill: () => cluster.kill(),
      restart: () => cluster.start(),
      stop: () => cluster.remove(),
    };
  });
