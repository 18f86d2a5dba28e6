/**
 * `/metrics` in the OpenMetrics text format.
 * Source: OpenMetrics 1.0, sections on text format: escaping of label values, `_total` of counters, the closing EOF line.
 */
import type { Metric } from './deps.js';

export const METRICS_MEDIA_TYPE = 'application/openmetrics-text; version=1.0.0; charset=utf-8';
const PREFIX = 'tallypost_';

function escapeText(text: string): string {
  return text.replaceAll('\\', '\\\\').replaceAll('\n', '\\n').replaceAll('"', '\\"');
}

function writeLabels(labels: Readonly<Record<string, string>> | undefined): string {
  const entries = Object.entries(labels ?? {});
  if (entries.length === 0) return '';
  return `{${entries.map(([name, value]) => `${name}="${escapeText(value)}"`).join(',')}}`;
}

/** The whole exposition, ending in `# EOF`. */
export function writeMetrics(metrics: readonly Metric[]): string {
  const lines: string[] = [];
  for (const metric of metrics) {
    const name = PREFIX + metric.name;
    lines.push(`# TYPE ${name} ${metric.type}`);
    if (metric.unit !== undefined) lines.push(`# UNIT ${name} ${metric.unit}`);
    lines.push(`# HELP ${name} ${escapeText(metric.help)}`);
    const suffix = metric.type === 'counter' ? '_total' : '';
    for (const { labels, value } of metric.values)
      lines.push(`${name}${suffix}${writeLabels(labels)} ${value}`);
  }
  lines.push('# EOF');
  return `${lines.join('\n')}\n`;
}
