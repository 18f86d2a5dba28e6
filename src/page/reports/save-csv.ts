/** The browser's way of keeping a table as a file. */
import { writeCsv, type CsvTable } from './csv.js';

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
