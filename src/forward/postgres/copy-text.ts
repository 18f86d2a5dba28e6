/**
 * Rows in the text format of COPY: columns end with a tab, rows with a line feed, null is `\N`.
 * Source: PostgreSQL manual, COPY, "Text Format".
 */

/** What a column takes; a time is written as RFC 3339 before it comes here. */
export type Cell = string | number | boolean | null;

const SPECIAL = /[\\\t\n\r]/;
const ESCAPES: Readonly<Record<string, string>> = { '\\': '\\\\', '\t': '\\t', '\n': '\\n', '\r': '\\r' };

export function writeCopyRow(cells: readonly Cell[]): string {
  let row = '';
  for (let i = 0; i < cells.length; i++) {
    if (i > 0) row += '\t';
    row += writeCell(cells[i]!);
  }
  return `${row}\n`;
}

function writeCell(cell: Cell): string {
  if (cell === null) return '\\N';
  if (typeof cell !== 'string') return String(cell);
  if (!SPECIAL.test(cell)) return cell;
  return cell.replace(/[\\\t\n\r]/g, (found) => ESCAPES[found]!);
}
