/** Rows to a CSV file and back. Source: RFC 4180; times as RFC 3339 in UTC, an empty field is null. */
import { formatUtc } from '../../shared/time.js';
import type { Cell, Column, Row } from './files-columns.js';

export function writeCsv(columns: readonly Column[], rows: readonly Row[]): Buffer {
  const lines = [columns.map(({ name }) => name).join(',')];
  for (const row of rows)
    lines.push(columns.map(({ type }, i) => quote(toText(type, row[i] ?? null))).join(','));
  return Buffer.from(`${lines.join('\r\n')}\r\n`);
}

function toText(type: Column['type'], cell: Cell): string {
  if (cell === null) return '';
  return type === 'time' ? formatUtc(cell as number) : String(cell);
}

/** A text that is empty is quoted, so that it is no null. */
function quote(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

export function readCsv(columns: readonly Column[], bytes: Buffer): Row[] {
  const [head, ...records] = splitCsv(bytes.toString('utf8'));
  const places = columns.map(({ name }) => head?.indexOf(name) ?? -1);
  return records.map((fields) =>
    columns.map(({ type }, i) => fromText(type, places[i]! < 0 ? '' : (fields[places[i]!] ?? ''))),
  );
}

function fromText(type: Column['type'], text: string): Cell {
  if (type === 'text') return text;
  if (text === '') return null;
  if (type === 'int') return Number(text);
  if (type === 'time') return Date.parse(text);
  return type === 'flag' ? text === 'true' : text;
}

/** Records of fields; a line end within quotes belongs to its field. */
function splitCsv(text: string): string[][] {
  const records: string[][] = [];
  let fields: string[] = [];
  let at = 0;
  while (at < text.length) {
    let field = '';
    if (text[at] === '"') {
      for (at += 1; at < text.length; at++) {
        if (text[at] !== '"') field += text[at];
        else if (text[at + 1] === '"') {
          field += '"';
          at += 1;
        } else break;
      }
      at += 1;
    } else {
      const end = /[,\r\n]/g;
      end.lastIndex = at;
      const stop = end.exec(text)?.index ?? text.length;
      field = text.slice(at, stop);
      at = stop;
    }
    fields.push(field);
    if (text[at] === ',') {
      at += 1;
      continue;
    }
    records.push(fields);
    fields = [];
    at += text.startsWith('\r\n', at) ? 2 : 1;
  }
  return records;
}
