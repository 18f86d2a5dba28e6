/** A shift or a week as tables to keep. Pure. */
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import type { JournalRow } from '../data/bodies.js';
import type { CsvTable } from './csv.js';
import type { PeriodFigures } from './period-figures.js';
import type { ReportSpan } from './report-span.js';

export function periodTable(
  { lines, transients }: Pick<PeriodFigures, 'lines' | 'transients'>,
  { from, to }: ReportSpan,
): CsvTable {
  const span = [new Date(from).toISOString(), new Date(to).toISOString()];
  return {
    columns: [
      ...['sensor', 'from', 'to', 'running_pulses', 'running_ms', 'rate_per_min', 'lower_per_min'],
      ...['upper_per_min', 'transients_of_motor', 'hours_from', 'hours_to'],
      ...LEDGER_CLASS_NAMES.flatMap((name) => [`hours_${name}_pulses`, `hours_${name}_ms`]),
    ],
    rows: lines.map(({ sensor, motor, rate, hours, sums }) => [
      ...[sensor, ...span, rate.pulses, rate.ms, rate.rate, rate.lower, rate.upper],
      ...[transients.get(motor) ?? 0, hours?.from ?? null, hours?.to ?? null],
      ...sums.flatMap(({ pulses, ms }) => [pulses, ms]),
    ]),
  };
}

export function journalTable(rows: readonly JournalRow[]): CsvTable {
  return {
    columns: ['id', 'at', 'kind', 'subject', 'what', 'who', 'text'],
    rows: rows.map(({ id, at, kind, subject, what, who, text }) => [id, at, kind, subject, what, who, text]),
  };
}
