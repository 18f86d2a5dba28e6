/**
 * Hypertables, where the extension for them is present: rollups are then cut into chunks of time by the extension.
 *
 * Old chunks may be compressed. What a compressed chunk takes has changed from release to release (none, plain inserts, inserts
 * with ON CONFLICT, these within a limit), so the merge asks nothing of them: a rollup whose chunk is compressed goes into the
 * plain table `rollups_late`, and the view `rollups_newest` shows the higher revision of the two. Nothing is decompressed.
 * Source: names of the catalogue from the extension's documentation, from memory; not run against the extension itself.
 */
import type { ClosedChunks } from './merge.js';
import { quoteName, quoteText } from './identifier.js';
import type { Session } from './session.js';
import { TABLES } from './tables.js';

const EXTENSION = 'timescaledb';
const CHUNK_DAYS = 7;

/** `none`: no extension. `plain`: the extension is there, and the table is none of its own. */
export type Chunking = 'none' | 'plain' | 'hypertable';

export async function readChunking(session: Session, schema: string, signal: AbortSignal): Promise<Chunking> {
  const rows = await session.ask(
    `SELECT extversion FROM pg_extension WHERE extname = '${EXTENSION}'`,
    signal,
  );
  if (rows.length === 0) return 'none';
  const tables = await session.ask(
    `SELECT 1 AS found FROM timescaledb_information.hypertables ` +
      `WHERE hypertable_schema = ${quoteText(schema)} AND hypertable_name = '${TABLES.rollups.name}'`,
    signal,
  );
  return tables.length === 0 ? 'plain' : 'hypertable';
}

/** Holds for a row `s` whose chunk is compressed. */
export function findClosed(schema: string): ClosedChunks {
  return (
    `EXISTS (SELECT 1 FROM timescaledb_information.chunks c ` +
    `WHERE c.hypertable_schema = ${quoteText(schema)} AND c.hypertable_name = '${TABLES.rollups.name}' ` +
    `AND c.is_compressed AND s.start >= c.range_start AND s.start < c.range_end)`
  );
}

/** Of an empty table only: moving rows would lock it for as long as it takes. */
export async function createHypertable(session: Session, schema: string, signal: AbortSignal): Promise<void> {
  const [place] = await session.ask(
    `SELECT n.nspname AS schema FROM pg_extension e JOIN pg_namespace n ON n.oid = e.extnamespace ` +
      `WHERE e.extname = '${EXTENSION}'`,
    signal,
  );
  const table = quoteText(quoteName(schema, TABLES.rollups.name));
  await session.ask(
    `SELECT ${quoteName(String(place?.['schema']), 'create_hypertable')}(${table}, 'start', ` +
      `chunk_time_interval => INTERVAL '${CHUNK_DAYS} days', if_not_exists => true)`,
    signal,
  );
}
