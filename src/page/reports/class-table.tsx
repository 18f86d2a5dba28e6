/** What became of every counted pulse and of the time: the classes side by side for the positions of a motor. */
import type { SeriesBody } from '../../../shared/charts.js';
import { zone } from '../data/clock.js';
import { namePosition } from '../parts/alarm-words.js';
import { formatCount, formatExact, formatRunning } from '../times.js';
import { CLASS_WORDS, type ClassSum } from './class-sums.js';

/** `hours`: the whole hours that hold the span; null: nothing is known of it. */
export function ClassTable({
  hours,
  positions,
}: {
  hours: SeriesBody['hours'];
  positions: readonly { readonly position: string; readonly sums: readonly ClassSum[] }[];
}) {
  const classes = positions[0]?.sums.map(({ name }) => name) ?? [];
  return (
    <table class="report-table">
      <caption>
        Every counted pulse is in exactly one class
        {hours !== null &&
          `: whole hours, ${formatExact(Date.parse(hours.from), zone.value)} to ${formatExact(Date.parse(hours.to), zone.value)}`}
      </caption>
      <thead>
        <tr>
          <th scope="col">Class</th>
          {positions.map(({ position }) => (
            <>
              <th scope="col" class="number">
                {namePosition(position)}: pulses
              </th>
              <th scope="col" class="number">
                time
              </th>
            </>
          ))}
        </tr>
      </thead>
      <tbody>
        {classes.map((name, place) => (
          <tr key={name}>
            <th scope="row">{CLASS_WORDS[name]}</th>
            {positions.map(({ sums }) => (
              <>
                <td class="number">{formatCount(sums[place]?.pulses ?? 0)}</td>
                <td class="number">{(sums[place]?.ms ?? 0) === 0 ? '–' : formatRunning(sums[place]!.ms)}</td>
              </>
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  );
}
