/** Statements that create what the receiver needs. All of them may be repeated; none drops or changes anything. */
import { quoteName, quoteText } from './identifier.js';
import { columnsOf, keyOf, RECEIVED_AT, TABLES, type Column, type Table } from './tables.js';

/** Where late revisions of closed chunks go, see hypertable.ts. */
export const LATE_TABLE = 'rollups_late';
/** What readers use: the newest revision of each rollup, wherever it lies. */
export const NEWEST_VIEW = 'rollups_newest';

/** Keys compare by bytes: no locale of the receiver's changes their order, and comparing is cheap. */
export function defineColumn(table: Table, column: Column): string {
  const isKey = keyOf(table).includes(column.name);
  const collation = isKey && column.type === 'text' ? ' COLLATE "C"' : '';
  const nullable = column.isNullable ? '' : ' NOT NULL';
  const filled = column === RECEIVED_AT ? ' DEFAULT now()' : '';
  return `${quoteName(column.name)} ${column.type}${collation}${nullable}${filled}`;
}

export function createTable(schema: string, name: string, table: Table): string {
  const columns = columnsOf(table).map((column) => `  ${defineColumn(table, column)}`);
  const key = keyOf(table).map((part) => quoteName(part));
  return (
    `CREATE TABLE IF NOT EXISTS ${quoteName(schema, name)} (\n` +
    `${[...columns, `  PRIMARY KEY (${key.join(', ')})`].join(',\n')}\n)`
  );
}

function describeTable(schema: string, name: string, table: Table): string[] {
  return [
    `COMMENT ON TABLE ${quoteName(schema, name)} IS ${quoteText(table.comment)}`,
    ...columnsOf(table).map(
      (column) => `COMMENT ON COLUMN ${quoteName(schema, name, column.name)} IS ${quoteText(column.comment)}`,
    ),
  ];
}

/** A table with its comments, in order. */
export function defineTable(schema: string, table: Table, name = table.name): string[] {
  return [createTable(schema, name, table), ...describeTable(schema, name, table)];
}

/**
 * Finds a day of all sensors without a second tree on the key: it costs next to nothing to keep, because rows come nearly in
 * order of time. Our choice.
 */
export function defineDayIndex(schema: string): string {
  return `CREATE INDEX IF NOT EXISTS rollups_by_start ON ${quoteName(schema, TABLES.rollups.name)} USING brin (start)`;
}

export function defineNewestView(schema: string, hasLate: boolean): string {
  const rollups = quoteName(schema, TABLES.rollups.name);
  const view = `CREATE OR REPLACE VIEW ${quoteName(schema, NEWEST_VIEW)} AS\n`;
  if (!hasLate) return `${view}SELECT * FROM ${rollups}`;
  const late = quoteName(schema, LATE_TABLE);
  const columns = columnsOf(TABLES.rollups).map(({ name }) => quoteName(name));
  const list = (of: string): string => columns.map((name) => `${of}.${name}`).join(', ');
  const same = keyOf(TABLES.rollups)
    .map((name) => `l.${quoteName(name)} = r.${quoteName(name)}`)
    .join(' AND ');
  return (
    `${view}SELECT ${list('r')} FROM ${rollups} r\n` +
    `WHERE NOT EXISTS (SELECT 1 FROM ${late} l WHERE ${same} AND l.revision >= r.revision)\n` +
    `UNION ALL SELECT ${list('l')} FROM ${late} l\n` +
    `WHERE NOT EXISTS (SELECT 1 FROM ${rollups} r WHERE ${same} AND r.revision > l.revision)`
  );
}

/** Everything for a receiver with plain tables, for an administrator who wants to run it instead of the gateway. */
export function defineAll(schema: string): string[] {
  return [
    `CREATE SCHEMA IF NOT EXISTS ${quoteName(schema)}`,
    ...Object.values(TABLES).flatMap((table) => defineTable(schema, table)),
    defineDayIndex(schema),
    defineNewestView(schema, false),
  ];
}
