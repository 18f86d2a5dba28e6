/**
 * A list as CSV: one row an item, one column a value, nested names joined by dots; what is itself a list stands as JSON.
 * Columns come from the schema, so that every page of a list has the same ones, an empty page too.
 * Source: RFC 4180 for the format; what a spreadsheet would take for a formula, see `shared/csv-cell.ts`.
 */
import { z } from 'zod';
import { guardCell, quoteCell } from '../../shared/csv-cell.js';

export const CSV_MEDIA_TYPE = 'text/csv; charset=utf-8; header=present';

type Json = Record<string, unknown>;
type Path = readonly string[];

/** An answer as a table, where it is not simply one list of it. */
export interface CsvTable {
  readonly row: z.ZodObject;
  /** of an answer, in their order */
  rows(answer: never): readonly unknown[];
}

/** Columns of the items of `list`, in the order of the schema. */
export function findColumns(response: z.ZodType, list: string | CsvTable): Path[] {
  const schema = typeof list === 'string' ? response : list.row;
  const whole = z.toJSONSchema(schema, { io: 'output', unrepresentable: 'any' }) as Json;
  if (typeof list !== 'string') return listLeaves(whole, [], whole);
  const found = ((whole['properties'] ?? {}) as Record<string, Json>)[list];
  return listLeaves((found?.['items'] ?? {}) as Json, [], whole);
}

export function findItems(answer: Record<string, unknown>, list: string | CsvTable): readonly unknown[] {
  return typeof list === 'string' ? (answer[list] as unknown[]) : list.rows(answer as never);
}

function listLeaves(schema: Json, path: Path, whole: Json): Path[] {
  const inner = resolve(schema, whole);
  const properties = inner['properties'] as Record<string, Json> | undefined;
  if (properties !== undefined)
    return Object.entries(properties).flatMap(([name, each]) => listLeaves(each, [...path, name], whole));
  const names = (inner['propertyNames'] as Json | undefined)?.['enum'] as string[] | undefined;
  const each = inner['additionalProperties'];
  if (names !== undefined && typeof each === 'object')
    return names.flatMap((name) => listLeaves(each as Json, [...path, name], whole));
  return [path];
}

/** Behind a reference, and behind an object or nothing: the object. */
function resolve(schema: Json, whole: Json): Json {
  const reference = schema['$ref'];
  if (typeof reference === 'string') {
    const parts = reference.replace(/^#\//, '').split('/');
    const target = parts.reduce<unknown>((at, part) => (at as Json | undefined)?.[part], whole);
    return resolve((target ?? {}) as Json, whole);
  }
  const branches = (schema['anyOf'] ?? []) as Json[];
  const objects = branches.filter((branch) => branch['type'] !== 'null');
  return objects.length === 1 ? resolve(objects[0]!, whole) : schema;
}

/** Lines end with CR LF, the last one too. */
export function writeCsv(columns: readonly Path[], items: readonly unknown[]): string {
  const lines = [columns.map((path) => quoteCell(path.join('.'))).join(',')];
  for (const item of items) lines.push(columns.map((path) => writeCell(valueAt(item, path))).join(','));
  return `${lines.join('\r\n')}\r\n`;
}

function valueAt(item: unknown, path: Path): unknown {
  return path.reduce<unknown>((at, name) => (at as Json | null | undefined)?.[name], item);
}

function writeCell(value: unknown): string {
  if (value === null || value === undefined) return '';
  if (typeof value === 'string') return quoteCell(guardCell(value));
  if (typeof value === 'number' || typeof value === 'boolean') return String(value);
  return quoteCell(JSON.stringify(value));
}
