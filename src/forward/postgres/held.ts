/** What the receiver holds of a day, summed by the receiver from its own rows. */
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import type { Manifest } from '../sink.js';
import { NEWEST_VIEW } from './definitions.js';
import { quoteName, quoteText } from './identifier.js';

const DAY_MS = 86_400_000;

function sumOf(what: 'pulses' | 'ms'): string {
  return `sum(${LEDGER_CLASS_NAMES.map((name) => `${what}_${name}`).join(' + ')})`;
}

/** Ordered by sensor, by bytes. `day`: midnight UTC, ms. */
export function sumDay(schema: string, site: string, day: number, period: Manifest['period']): string {
  const time = (ms: number): string => `${quoteText(new Date(ms).toISOString())}::timestamptz`;
  return (
    `SELECT sensor, count(*) AS rows, ${sumOf('pulses')} AS pulses, ${sumOf('ms')} AS ms, ` +
    `max(revision) AS highest_revision FROM ${quoteName(schema, NEWEST_VIEW)} ` +
    `WHERE site = ${quoteText(site)} AND period = ${quoteText(period)} ` +
    `AND start >= ${time(day)} AND start < ${time(day + DAY_MS)} GROUP BY sensor ORDER BY sensor`
  );
}

/** Sums come as text, because they may be larger than a number: then they are no sums of ours. */
export function toManifest(
  row: Readonly<Record<string, unknown>>,
  day: number,
  period: Manifest['period'],
): Manifest {
  return {
    ...{ sensor: String(row['sensor']), period, day },
    ...{ rows: Number(row['rows']), pulses: Number(row['pulses']), ms: Number(row['ms']) },
    highestRevision: Number(row['highest_revision']),
  };
}
