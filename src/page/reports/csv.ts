/** Comma-separated values as RFC 4180 has them, with a header line, and the browser's way of keeping them as a file. */

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

/** Hands a table to the browser as a file to keep. */
export function saveCsv(name: string, table: CsvTable): void {
  const address = URL.createObjectURL(new Blob([writeCsv(table)], { type: 'text/csv;charset=utf-8' }));
  const link = document.createElement('a');
  link.href = address;
  link.download = `${name}.csv`;
  document.body.append(link);
  link.click();
  link.remove();
  // the browser reads it after the click
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}
