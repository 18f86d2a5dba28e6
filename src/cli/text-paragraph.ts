/** Running text for people, in lines that fit a terminal. */
import { TERMINAL_COLUMNS, wrapText } from './text-columns.js';

/** A paragraph with every line indented; the first may begin with a mark. Ends with a line end. */
export function writeParagraph(text: string, indent = 0, mark = ''): string {
  const start = ' '.repeat(indent) + mark;
  const rest = ' '.repeat(start.length);
  return wrapText(text, TERMINAL_COLUMNS - start.length)
    .map((line, i) => `${`${i === 0 ? start : rest}${line}`.trimEnd()}\n`)
    .join('');
}
