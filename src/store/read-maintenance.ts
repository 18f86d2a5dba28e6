/** Reads what people entered about motors, in order of the time it is about. */
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';
import { ACTION_COLUMNS, FINDING_COLUMNS, toAction, toFinding } from './maintenance-rows.js';
import { FIRST, fromCursor, LAST, toPage, type Page, type PageQuery } from './page.js';
import type { ReadConnection } from './read-connection.js';
import type { Cells } from './statements.js';

export interface EntryQuery extends PageQuery {
  /** null: all */
  readonly motor: string | null;
}

/** Withdrawn ones too. Ordered by (at, id). */
export function readActions(reader: ReadConnection, query: EntryQuery): Page<MaintenanceAction> {
  return readEntries(reader, 'maintenance_action', ACTION_COLUMNS, query, toAction);
}

/** Withdrawn ones too. Ordered by (at, id). */
export function readFindings(reader: ReadConnection, query: EntryQuery): Page<Finding> {
  return readEntries(reader, 'finding', FINDING_COLUMNS, query, toFinding);
}

function readEntries<T extends { readonly at: number; readonly id: number }>(
  reader: ReadConnection,
  table: string,
  columns: string,
  query: EntryQuery,
  toRow: (motor: string, cells: Cells) => T,
): Page<T> {
  const [at, id] = fromCursor<[number, number]>(query.cursor, [FIRST, 0]);
  const own = columns.replace(/^id/, `${table}.id`);
  const rows = reader.all(
    `SELECT ${own}, name.text FROM ${table} JOIN name ON name.id = motor
     WHERE (? IS NULL OR name.text = ?) AND (at, ${table}.id) > (?, ?) AND at >= ? AND at < ?
     ORDER BY at, ${table}.id LIMIT ?`,
    query.motor,
    query.motor,
    at,
    id,
    query.from ?? FIRST,
    query.to ?? LAST,
    query.limit,
  );
  const items = rows.map((cells) => toRow(cells[cells.length - 1] as string, cells.slice(0, -1)));
  return toPage(items, query.limit, (last) => [last.at, last.id]);
}

/** The motor of an entry and what it is; null: there is none of that number. */
export function findEntry(
  reader: ReadConnection,
  id: number,
): { readonly of: 'action' | 'finding'; readonly motor: string } | null {
  for (const [table, of] of [
    ['maintenance_action', 'action'],
    ['finding', 'finding'],
  ] as const) {
    const sql = `SELECT name.text FROM ${table} JOIN name ON name.id = motor WHERE ${table}.id = ?`;
    const motor = reader.value(sql, id);
    if (motor !== null) return { of, motor: motor as string };
  }
  return null;
}
