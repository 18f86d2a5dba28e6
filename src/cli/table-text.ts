/** Rows as text: NDJSON with a fixed order of fields, or CSV. Source for CSV: RFC 4180, but lines end in LF alone. */

export type Cell = string | number | boolean | null;
export type Format = 'ndjson' | 'csv';

/** One column of an export: its name and how to take it from a row. */
export interface Column<T> {
  readonly name: string;
  readonly take: (row: T) => Cell;
}

function quoteCell(cell: Cell): string {
  if (cell === null) return '';
  const text = String(cell);
  return /[",\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** The first line, with its line end; '' for NDJSON. */
export function writeHeader<T>(columns: readonly Column<T>[], format: Format): string {
  return format === 'csv' ? `${columns.map((c) => quoteCell(c.name)).join(',')}\n` : '';
}

/** One line per row, with line ends. In CSV null is an empty cell. */
export function writeRows<T>(rows: readonly T[], columns: readonly Column<T>[], format: Format): string {
  let text = '';
  for (const row of rows) {
    if (format === 'csv') {
      text += `${columns.map((c) => quoteCell(c.take(row))).join(',')}\n`;
    } else {
      const fields: Record<string, Cell> = {};
      for (const column of columns) fields[column.name] = column.take(row);
      text += `${JSON.stringify(fields)}\n`;
    }
  }
  return text;
}
