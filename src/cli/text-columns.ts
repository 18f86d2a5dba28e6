/** Tables for people: columns of text that fit a terminal of 100 columns, the last one wrapped below itself. */

/** Columns of a terminal that tables keep to. */
export const TERMINAL_COLUMNS = 100;
const GAP = '  ';
/** The last column is never squeezed below this. */
const LAST_LEAST = 20;

/** Text in lines of at most `width` characters, broken between words; a longer word is cut. */
export function wrapText(text: string, width: number): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(/\s+/).filter((each) => each !== '')) {
    let rest = word;
    if (line !== '' && line.length + 1 + rest.length <= width) {
      line += ` ${rest}`;
      continue;
    }
    if (line !== '') lines.push(line);
    for (; rest.length > width; rest = rest.slice(width)) lines.push(rest.slice(0, width));
    line = rest;
  }
  return line === '' && lines.length > 0 ? lines : [...lines, line];
}

/** `head` and rows of as many cells. Columns of numbers, by index, stand right. Ends with a line end. */
export function writeColumns(
  head: readonly string[],
  rows: readonly (readonly string[])[],
  numbers: readonly number[] = [],
): string {
  const last = head.length - 1;
  const widths = head.map((_, i) => Math.max(...[head, ...rows].map((row) => (row[i] ?? '').length)));
  const before = widths.slice(0, last).reduce((sum, width) => sum + width + GAP.length, 0);
  const room = Math.max(LAST_LEAST, TERMINAL_COLUMNS - before);
  const writeRow = (row: readonly string[]): string => {
    const cells = row
      .slice(0, last)
      .map((cell, i) => (numbers.includes(i) ? cell.padStart(widths[i]!) : cell.padEnd(widths[i]!)));
    const [first = '', ...more] = wrapText(row[last] ?? '', room);
    const lines = [[...cells, first].join(GAP), ...more.map((line) => ' '.repeat(before) + line)];
    return lines.map((line) => `${line.trimEnd()}\n`).join('');
  };
  return [head, ...rows].map(writeRow).join('');
}
