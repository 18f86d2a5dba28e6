/** How the demo speaks: wrapped lines on standard output, a blank line and a rule before each part. */

const WIDTH = 96;
const START = performance.now();

function wrapText(text: string, indent: string): string {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && line.length + word.length + 1 > WIDTH - indent.length) {
      lines.push(line);
      line = '';
    }
    line = line === '' ? word : `${line} ${word}`;
  }
  lines.push(line);
  return lines.map((each) => `${indent}${each}`).join('\n');
}

/** One thought, as a paragraph. */
export function say(text: string): void {
  process.stdout.write(`${wrapText(text, '  ')}\n`);
}

/** The beginning of a part, with the seconds since the demo began. */
export function sayHeading(text: string): void {
  const seconds = Math.round((performance.now() - START) / 1000);
  process.stdout.write(`\n[${String(seconds).padStart(2)} s] ${text}\n`);
}

/** Rows under one another; the first cell flush left, the others flush right. */
export function sayTable(head: readonly string[], rows: readonly (readonly string[])[]): void {
  const all = [head, ...rows];
  const widths = head.map((_, i) => Math.max(...all.map((row) => (row[i] ?? '').length)));
  for (const row of all) {
    const cells = row.map((cell, i) =>
      i === 0 ? cell.padEnd(widths[i] ?? 0) : cell.padStart(widths[i] ?? 0),
    );
    process.stdout.write(`    ${cells.join('   ')}\n`);
  }
}

/** 1234567 → `1,234,567` */
export function tellNumber(value: number): string {
  return value.toLocaleString('en-GB', { maximumFractionDigits: value >= 100 ? 0 : value >= 10 ? 1 : 2 });
}

/** Time of day of the station. */
export function tellClock(time: string | number, zone: string): string {
  return new Intl.DateTimeFormat('en-GB', { timeZone: zone, timeStyle: 'medium' }).format(new Date(time));
}

export function tellSpan(ms: number): string {
  const seconds = Math.round(ms / 1000);
  return seconds < 120 ? `${seconds} s` : `${Math.round(seconds / 60)} min`;
}
