/** Results as text for people. */
import type { ScenarioResult } from './rounds.js';
import type { Spread } from './spread.js';

/** Columns padded to their widest cell; the first row is the heading. */
export function formatTable(rows: readonly (readonly string[])[]): string {
  const widths: number[] = [];
  for (const row of rows) row.forEach((cell, i) => (widths[i] = Math.max(widths[i] ?? 0, cell.length)));
  const lines = rows.map((row) =>
    row
      .map((cell, i) => cell.padEnd(widths[i] ?? 0))
      .join('  ')
      .trimEnd(),
  );
  lines.splice(1, 0, widths.map((width) => '-'.repeat(width)).join('  '));
  return lines.join('\n');
}

export function formatCount(value: number): string {
  return Math.round(value).toLocaleString('en');
}

export function formatMegabytes(bytes: number | null): string {
  return bytes === null ? '-' : `${(bytes / 1e6).toFixed(0)} MB`;
}

function formatRatio(ratio: Spread | null): string {
  return ratio === null
    ? '-'
    : `${ratio.median.toFixed(2)} (${ratio.least.toFixed(2)} to ${ratio.most.toFixed(2)})`;
}

export function formatScenario(result: ScenarioResult): string {
  const rows = [
    [
      'target',
      'readings/s',
      'least to most',
      'against bare',
      'ack p50',
      'ack p99',
      'cores',
      'generator',
      'highest RSS',
      'hash',
    ],
  ];
  for (const t of result.targets) {
    rows.push([
      t.target,
      formatCount(t.perSecond.median),
      `${formatCount(t.perSecond.least)} to ${formatCount(t.perSecond.most)}`,
      formatRatio(t.ratio),
      `${(t.p50Us / 1000).toFixed(2)} ms`,
      `${(t.p99Us / 1000).toFixed(2)} ms`,
      t.cores === null ? '-' : t.cores.toFixed(2),
      t.generatorCores.toFixed(2),
      formatMegabytes(t.highestBytes),
      t.hash ?? '-',
    ]);
  }
  return `${result.scenario}: ${result.says}, median of ${result.rounds}\n${formatTable(rows)}`;
}
