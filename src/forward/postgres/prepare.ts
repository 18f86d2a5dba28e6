/** Creates what is missing at the receiver and says what is other than it should be. It drops and rewrites nothing. */
import {
  createTable,
  defineColumn,
  defineDayIndex,
  defineNewestView,
  defineTable,
  LATE_TABLE,
} from './definitions.js';
import { createHypertable, readChunking } from './hypertable.js';
import { quoteName, quoteText } from './identifier.js';
import type { Session } from './session.js';
import { columnsOf, keyOf, TABLES, type Table } from './tables.js';

/** PostgreSQL 13. */
export const VERSION_LEAST = 130_000;

interface Found {
  readonly type: string;
  readonly isNullable: boolean;
}

/** One sentence for each thing done or found. `wantsChunks`: make a hypertable where the extension is present. */
export async function prepareSchema(
  session: Session,
  schema: string,
  wantsChunks: boolean,
  signal: AbortSignal,
): Promise<string[]> {
  const says = await checkServer(session, signal);
  const found = await session.ask(
    `SELECT nspname FROM pg_namespace WHERE nspname = ${quoteText(schema)}`,
    signal,
  );
  if (found.length === 0) {
    await session.ask(`CREATE SCHEMA IF NOT EXISTS ${quoteName(schema)}`, signal);
    says.push(`created the schema ${schema}`);
  }
  for (const table of Object.values(TABLES))
    says.push(...(await prepareTable(session, schema, table, table.name, signal)));
  await session.ask(defineDayIndex(schema), signal);
  const chunks = await prepareChunks(session, schema, wantsChunks, signal);
  says.push(...chunks.says);
  await session.ask(defineNewestView(schema, chunks.hasLate), signal);
  return says;
}

async function checkServer(session: Session, signal: AbortSignal): Promise<string[]> {
  const [row] = await session.ask(
    `SELECT current_setting('server_version') AS version, current_setting('server_encoding') AS encoding, ` +
      `current_setting('fsync') AS fsync`,
    signal,
  );
  const says = [`PostgreSQL ${String(row?.['version'])}`];
  if (row?.['encoding'] !== 'UTF8')
    says.push(
      `the database is encoded in ${String(row?.['encoding'])}: texts that it cannot write are refused and set aside; use a database in UTF8`,
    );
  if (row?.['fsync'] !== 'on')
    says.push('fsync is off: what it says it holds can be lost with its power; set fsync = on');
  return says;
}

async function prepareTable(
  session: Session,
  schema: string,
  table: Table,
  name: string,
  signal: AbortSignal,
): Promise<string[]> {
  const found = await readColumns(session, schema, name, signal);
  if (found.size === 0) {
    await session.ask(defineTable(schema, table, name).join('; '), signal);
    return [`created the table ${schema}.${name}`];
  }
  const says: string[] = [];
  for (const column of columnsOf(table)) {
    const there = found.get(column.name);
    const place = `${schema}.${name}.${column.name}`;
    if (there === undefined) {
      const statement = `ALTER TABLE ${quoteName(schema, name)} ADD COLUMN ${defineColumn(table, column)}`;
      if (column.isNullable) {
        await session.ask(statement, signal);
        says.push(`added the column ${place}`);
      } else says.push(`${place} is missing and must not be null: ${statement} DEFAULT …; then fill it`);
    } else if (there.type !== column.type)
      says.push(
        `${place} is of type ${there.type}, expected ${column.type}: alter it, or move the table away`,
      );
    else if (!there.isNullable && column.isNullable)
      says.push(
        `${place} must take null, which is "not known": ALTER TABLE ${quoteName(schema, name)} ALTER COLUMN ${quoteName(column.name)} DROP NOT NULL`,
      );
  }
  says.push(...(await checkKey(session, schema, table, name, signal)));
  const own = new Set(columnsOf(table).map((column) => column.name));
  for (const [extra, { isNullable }] of found)
    if (!own.has(extra) && !isNullable)
      says.push(`${schema}.${name}.${extra} is not ours and must not be null: give it a default`);
  return says.length > 0 ? says : [`the table ${schema}.${name} is as it should be`];
}

/** Without a unique key over exactly these columns nothing can be replaced, and a repeat would be stored twice. */
async function checkKey(
  session: Session,
  schema: string,
  table: Table,
  name: string,
  signal: AbortSignal,
): Promise<string[]> {
  const rows = await session.ask(
    `SELECT array_to_string(array(SELECT a.attname::text FROM pg_attribute a WHERE a.attrelid = i.indrelid ` +
      `AND a.attnum = ANY (i.indkey) ORDER BY 1), ',') AS columns FROM pg_index i ` +
      `WHERE i.indisunique AND i.indpred IS NULL AND i.indrelid = ${quoteText(quoteName(schema, name))}::regclass`,
    signal,
  );
  const wanted = [...keyOf(table)].sort().join(',');
  if (rows.some((row) => row['columns'] === wanted)) return [];
  const key = keyOf(table).map((part) => quoteName(part));
  return [
    `${schema}.${name} has no unique key of ${keyOf(table).join(', ')}: ALTER TABLE ${quoteName(schema, name)} ADD PRIMARY KEY (${key.join(', ')})`,
  ];
}

async function readColumns(
  session: Session,
  schema: string,
  name: string,
  signal: AbortSignal,
): Promise<Map<string, Found>> {
  const rows = await session.ask(
    `SELECT a.attname AS name, format_type(a.atttypid, a.atttypmod) AS type, ` +
      `(NOT a.attnotnull OR a.atthasdef) AS nullable ` +
      `FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid JOIN pg_namespace n ON n.oid = c.relnamespace ` +
      `WHERE n.nspname = ${quoteText(schema)} AND c.relname = ${quoteText(name)} AND a.attnum > 0 AND NOT a.attisdropped`,
    signal,
  );
  return new Map(
    rows.map((row) => [
      String(row['name']),
      { type: String(row['type']), isNullable: row['nullable'] === true },
    ]),
  );
}

async function prepareChunks(
  session: Session,
  schema: string,
  wantsChunks: boolean,
  signal: AbortSignal,
): Promise<{ says: string[]; hasLate: boolean }> {
  const rollups = quoteName(schema, TABLES.rollups.name);
  let chunking = await readChunking(session, schema, signal);
  if (chunking === 'none') return { says: ['no extension for hypertables: plain tables'], hasLate: false };
  const says: string[] = [];
  if (chunking === 'plain' && wantsChunks) {
    const rows = await session.ask(`SELECT 1 AS found FROM ${rollups} LIMIT 1`, signal);
    if (rows.length === 0) {
      await createHypertable(session, schema, signal);
      chunking = await readChunking(session, schema, signal);
      says.push(`made ${schema}.${TABLES.rollups.name} a hypertable`);
    } else
      says.push(
        `${schema}.${TABLES.rollups.name} is a plain table with rows: make it a hypertable at a quiet time, with migrate_data => true`,
      );
  }
  if (chunking === 'plain') return { says, hasLate: false };
  await session.ask(createTable(schema, LATE_TABLE, TABLES.rollups), signal);
  says.push(`late revisions of compressed chunks go to ${schema}.${LATE_TABLE}`);
  return { says, hasLate: true };
}
