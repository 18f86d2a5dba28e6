/** The figures of a motor's report as tables to keep. Pure. */
import type { SeriesBody, TimelineBody } from '../../../shared/charts.js';
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import type { CsvTable } from './csv.js';
import { nameMark, sayMark } from './mark-table.js';

const ASIDE = LEDGER_CLASS_NAMES.filter((name) => name !== 'running');

export function seriesTable(all: readonly SeriesBody[]): CsvTable {
  const aside = ASIDE.flatMap((name) => [`${name}_pulses`, `${name}_ms`]);
  return {
    columns: [
      ...['sensor', 'start', 'end', 'running_pulses', 'running_ms', 'mean_per_min', 'lower_per_min'],
      ...['upper_per_min', 'min_per_min', 'max_per_min', 'baseline_per_min', 'quality', ...aside],
    ],
    rows: all.flatMap(({ sensor, points }) =>
      points.map((point) => [
        ...[sensor, point.start, point.end, point.running_pulses, point.running_ms, point.mean_per_min],
        ...[point.lower_per_min, point.upper_per_min, point.min_per_min, point.max_per_min],
        ...[point.baseline_per_min, point.quality],
        ...ASIDE.flatMap((name) => [point.excluded_pulses[name] ?? 0, point.excluded_ms[name] ?? 0]),
      ]),
    ),
  };
}

export function markTable({ motor, marks }: TimelineBody): CsvTable {
  return {
    columns: ['motor', 'at', 'what', 'says'],
    rows: marks.map((mark) => [motor, mark.at, nameMark(mark), sayMark(mark)]),
  };
}
