/** A duty group as a table to keep: a line for each sensor matched over the group, and one for each bin. Pure. */
import type { GroupBody } from '../../../shared/charts.js';
import type { CsvTable } from './csv.js';

export function groupTable(group: GroupBody): CsvTable {
  return {
    columns: [
      ...['group', 'sensor', 'bin', 'pulses', 'running_ms', 'rate_per_min', 'lower_per_min', 'upper_per_min'],
      ...['ratio_to_group', 'ratio_lower', 'ratio_upper', 'p', 'odd', 'sentence'],
    ],
    rows: group.sensors.flatMap(({ sensor, cells, matched, sentence }) => [
      ...(matched === null
        ? []
        : [
            [
              ...[group.group, sensor, 'matched', matched.pulses, matched.ms],
              ...[matched.rate_per_min.mean, matched.rate_per_min.lower, matched.rate_per_min.upper],
              ...[matched.ratio.mean, matched.ratio.lower, matched.ratio.upper],
              ...[matched.p, matched.odd, sentence],
            ],
          ]),
      ...cells.map(({ bin, pulses, ms, rate_per_min: rate }) => [
        ...[group.group, sensor, bin, pulses, ms, rate.mean, rate.lower, rate.upper],
        ...[null, null, null, null, null, null],
      ]),
    ]),
  };
}
