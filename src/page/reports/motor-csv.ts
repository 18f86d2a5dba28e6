/** The figures of a motor's report as tables to keep. Pure. */
import type { SeriesBody, TimelineBody } from '../../../shared/charts.js';
import { LEDGER_CLASS_NAMES } from '../../../shared/ledger-terms.js';
import type { CsvTable } from './csv.js';
import { listClasses } from './class-sums.js';
import { nameMark, sayMark } from './mark-table.js';
import type { MotorFigures } from './motor-figures.js';
import { periodTable } from './period-csv.js';
import { rateOfSpan } from './rate-words.js';
import type { ReportSpan } from './report-span.js';

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

/** The span in one line for each sensor, as it stands in the report's sentences and in its table of classes. */
export function totalsTable({ positions, timeline }: MotorFigures, span: ReportSpan): CsvTable {
  const { motor, transients } = timeline;
  const lines = positions.map(({ sensor, position, series, count }) => ({
    ...{ sensor, motor, position, rate: rateOfSpan(series, count) },
    ...{ hours: series.hours, sums: listClasses(series.hours) },
  }));
  const starts = transients.reduce((sum, each) => sum + each.transients, 0);
  return periodTable({ lines, transients: new Map([[motor, starts]]) }, span);
}

export function markTable({ motor, marks }: TimelineBody): CsvTable {
  return {
    columns: ['motor', 'at', 'what', 'says'],
    rows: marks.map((mark) => [motor, mark.at, nameMark(mark), sayMark(mark)]),
  };
}
