/** Tables for people: columns padded, long last columns wrapped, so that nothing is wider than 100 characters. */

export const WIDTH_MOST = 100;
const GAP = '  ';

/** `right`: columns of figures, by index. The last column is wrapped where the table would be too wide. */
export function writeTable(
  head: readonly string[],
  rows: readonly (readonly string[])[],
  right: readonly number[] = [],
): string {
  const last = head.length - 1;
  const widths = head.map((_, i) => Math.max(...[head, ...rows].map((row) => (row[i] ?? '').length)));
  const before = widths.slice(0, last).reduce((sum, width) => sum + width + GAP.length, 0);
  const room = Math.max(20, WIDTH_MOST - before);
  const pad = (cell: string, i: number): string =>
    right.includes(i) ? cell.padStart(widths[i] ?? 0) : cell.padEnd(widths[i] ?? 0);
  const writeRow = (row: readonly string[]): string => {
    const lines = wrapText(row[last] ?? '', room);
    const start = row
      .slice(0, last)
      .map((cell, i) => pad(cell, i) + GAP)
      .join('');
    const first = right.includes(last) ? pad(lines[0] ?? '', last) : (lines[0] ?? '');
    return [start + first, ...lines.slice(1).map((line) => ' '.repeat(before) + line)]
      .map((line) => line.trimEnd())
      .join('\n');
  };
  return [head, ...rows].map((row) => `${writeRow(row)}\n`).join('');
}

/** At least one line. A word longer than the room stands alone, cut. */
export function wrapText(text: string, room: number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    let rest = word;
    if (line !== '' && line.length + 1 + rest.length > room) {
      lines.push(line);
      line = '';
    }
    while (rest.length > room) {
      lines.push(rest.slice(0, room));
      rest = rest.slice(room);
    }
    line = line === '' ? rest : `${line} ${rest}`;
  }
  lines.push(line);
  return lines;
}

/** A paragraph with every line indented; the first may begin with a mark. */
export function writeParagraph(text: string, indent = 0, mark = ''): string {
  const start = ' '.repeat(indent) + mark;
  const rest = ' '.repeat(start.length);
  return wrapText(text, WIDTH_MOST - start.length)
    .map((line, i) => `${i === 0 ? start : rest}${line}`.trimEnd() + '\n')
    .join('');
}
