/** Comma-separated values as RFC 4180 has them, with a header line. Pure. */

export type Cell = string | number | boolean | null;

export interface CsvTable {
  /** units last in the names */
  readonly columns: readonly string[];
  readonly rows: readonly (readonly Cell[])[];
}

/** What a spreadsheet would take for a formula is led by an apostrophe: what people typed must not calculate. */
function guardText(text: string): string {
  return /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
}

function writeCell(cell: Cell): string {
  if (cell === null) return '';
  if (typeof cell !== 'string') return String(cell);
  const text = guardText(cell);
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** Null is an empty field, which is not zero. Lines end with CRLF. */
export function writeCsv({ columns, rows }: CsvTable): string {
  return [columns, ...rows].map((row) => `${row.map(writeCell).join(',')}\r\n`).join('');
}
