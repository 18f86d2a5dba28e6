/**
 * How a batch gets in: each stream is copied into a staging table of the session, and merged from there. All of it travels as
 * one message of several statements, which PostgreSQL runs as one transaction: one round trip, and nothing in between can
 * leave it half open.
 * Source: PostgreSQL manual, "Multiple Statements in a Simple Query" (message flow) and INSERT, ON CONFLICT.
 */
import type { Stream } from '../sink.js';
import { LATE_TABLE } from './definitions.js';
import { quoteName, quoteText } from './identifier.js';
import { keyOf, RECEIVED_AT, SITE, TABLES, type Table } from './tables.js';

/** Where rows of chunks go that take no merge; null: the table has no chunks. A condition on `s.start`. */
export type ClosedChunks = string | null;

function stagingOf(table: Table): string {
  return `pg_temp.${quoteName(`stage_${table.name}`)}`;
}

/** Once in a session. Emptied by every commit, never written to the log of the server. */
export function createStaging(stream: Stream): string {
  const table = TABLES[stream];
  const columns = table.columns.map(
    ({ name, type }) => `${quoteName(name)} ${type}${type === 'text' ? ' COLLATE "C"' : ''}`,
  );
  return `CREATE TEMPORARY TABLE ${quoteName(`stage_${table.name}`)} (${columns.join(', ')}) ON COMMIT DELETE ROWS`;
}

export function copyToStaging(stream: Stream): string {
  const table = TABLES[stream];
  const columns = table.columns.map(({ name }) => quoteName(name));
  return `COPY ${stagingOf(table)} (${columns.join(', ')}) FROM STDIN`;
}

/**
 * Rows are taken in the order of their keys, so two writers wait for one another but never in a circle. Expects each key once.
 * `where`: a condition on `s`; '': all.
 */
function mergeInto(schema: string, target: string, table: Table, site: string, where: string): string {
  const columns = table.columns.map(({ name }) => quoteName(name));
  const changed = [...table.columns.map(({ name }) => name), RECEIVED_AT.name].filter(
    (name) => !table.key.includes(name),
  );
  const key = keyOf(table).map((name) => quoteName(name));
  return (
    `INSERT INTO ${quoteName(schema, target)} AS t (${quoteName(SITE.name)}, ${columns.join(', ')}) ` +
    `SELECT ${quoteText(site)}, ${columns.map((name) => `s.${name}`).join(', ')} FROM ${stagingOf(table)} s ` +
    `${where === '' ? '' : `WHERE ${where} `}` +
    `ORDER BY ${table.key.map((name) => `s.${quoteName(name)}`).join(', ')} ` +
    `ON CONFLICT (${key.join(', ')}) DO UPDATE SET ` +
    `${changed.map((name) => `${quoteName(name)} = excluded.${quoteName(name)}`).join(', ')} ` +
    `WHERE excluded.revision > t.revision`
  );
}

export function mergeStaging(schema: string, stream: Stream, site: string, closed: ClosedChunks): string[] {
  const table = TABLES[stream];
  if (stream !== 'rollups' || closed === null) return [mergeInto(schema, table.name, table, site, '')];
  return [
    mergeInto(schema, table.name, table, site, `NOT ${closed}`),
    mergeInto(schema, LATE_TABLE, table, site, closed),
  ];
}
