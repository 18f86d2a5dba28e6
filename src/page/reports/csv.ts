/** Comma-separated values as RFC 4180 has them, with a header line. Pure. */
import { guardCell, quoteCell } from '../../../shared/csv-cell.js';

export type Cell = string | number | boolean | null;

export interface CsvTable {
  /** units last in the names */
  readonly columns: readonly string[];
  readonly rows: readonly (readonly Cell[])[];
}

function writeCell(cell: Cell): string {
  if (cell === null) return '';
  if (typeof cell !== 'string') return String(cell);
  return quoteCell(guardCell(cell));
}

/** Null is an empty field, which is not zero. Lines end with CRLF. */
export function writeCsv({ columns, rows }: CsvTable): string {
  return [columns, ...rows].map((row) => `${row.map(writeCell).join(',')}\r\n`).join('');
}
