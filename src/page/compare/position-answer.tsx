/** Before and after at one position: the sentence, the picture of both periods, the ratio, and the bins behind it. */
import type { SeriesBody } from '../../../shared/charts.js';
import { describeBin } from '../charts/bin-words.js';
import { IntervalChart } from '../charts/interval-chart.js';
import type { IntervalRow } from '../charts/interval-rows.js';
import { SmallSeriesChart, type Shade } from '../charts/small-series-chart.js';
import { nameZone } from '../charts/time-axis.js';
import type { ApiProblem } from '../data/api-client.js';
import { readNow, zone } from '../data/clock.js';
import type { ActionRow, Answer, Comparison } from '../data/advice-bodies.js';
import { useBody } from '../parts/use-body.js';
import { namePosition } from '../parts/alarm-words.js';
import { Period } from '../parts/moment.js';
import { ProblemNote } from '../parts/problem-note.js';
import { DAY_MS, formatCount, formatDay, formatRate, formatRunning } from '../times.js';
import { ColumnHeads } from '../parts/column-heads.js';

const AROUND_MS = 28 * DAY_MS;
const POINTS = 180;
const BEFORE_LEAST_MS = DAY_MS / 4;
const MINUTE_MS = 60_000;

/** Both periods where there is an answer; until then four weeks on either side. */
function spanOf(
  action: ActionRow,
  comparison: Comparison | null,
): { from: number; to: number; shades: Shade[] } {
  const at = Date.parse(action.at);
  const read = (time: string | null | undefined, other: number): number =>
    time === null || time === undefined ? other : Date.parse(time);
  const now = Math.floor(readNow() / MINUTE_MS) * MINUTE_MS;
  const before = { from: read(comparison?.b.from, at - AROUND_MS), to: read(comparison?.b.to, at) };
  const after = {
    from: read(comparison?.a.from, at),
    to: read(comparison?.a.to, Math.min(now, at + AROUND_MS)),
  };
  const isTold = comparison !== null;
  return {
    ...{ from: before.from, to: Math.max(after.to, before.from + DAY_MS) },
    shades: isTold
      ? [
          { ...before, label: 'before' },
          { ...after, label: 'after' },
        ]
      : [],
  };
}

/** Until there is an answer, where the counts begin: weeks of nothing would squeeze the hours that there are. `begin` null: not known yet. */
function useBegin(
  sensor: string,
  from: number,
  to: number,
  action: ActionRow,
  comparison: Comparison | null,
): { readonly begin: number | 'nothing' | null; readonly problem: ApiProblem | null } {
  const path = comparison === null ? '/series' : null;
  const { body, problem } = useBody<SeriesBody>(path, { sensor, from, to, points: POINTS });
  if (comparison !== null) return { begin: from, problem: null };
  if (body === null) return { begin: null, problem };
  const first = body.points[0];
  if (first === undefined) return { begin: 'nothing', problem };
  const begin = Math.min(Date.parse(first.start), Date.parse(action.at) - BEFORE_LEAST_MS);
  return { begin: Math.max(from, begin), problem };
}

function Periods({
  sensor,
  action,
  comparison,
}: {
  sensor: string;
  action: ActionRow;
  comparison: Comparison | null;
}) {
  const { from, to, shades } = spanOf(action, comparison);
  const { begin, problem: unbegun } = useBegin(sensor, from, to, action, comparison);
  const path = typeof begin === 'number' ? '/series' : null;
  const { body, problem: undrawn } = useBody<SeriesBody>(path, { sensor, from: begin, to, points: POINTS });
  const problem = unbegun ?? undrawn;
  if (problem !== null) return <ProblemNote problem={problem} />;
  if (begin === 'nothing') return <p class="quiet">Nothing was counted in the four weeks around it.</p>;
  if (body === null || begin === null) return <p class="quiet">Drawing…</p>;
  return (
    <figure class="periods">
      <SmallSeriesChart
        points={body.points}
        {...{ from: begin, to, shades, zone: zone.value, markAt: Date.parse(action.at) }}
        title={`Rate of ${sensor} before and after ${formatDay(Date.parse(action.at), zone.value)}, pulses per minute of running`}
        height={230}
      />
      <figcaption class="quiet">
        Pulses per minute of running with 95 % limits; the dotted line is the work. Times in{' '}
        {nameZone(begin, to, zone.value)}.
      </figcaption>
    </figure>
  );
}

function toRow({ ratio, lower, upper }: Comparison, label: string): IntervalRow {
  // without pulses before, the ratio has no value, and its lower limit still says something
  return {
    key: 'ratio',
    label,
    note: '',
    missing: 'no exposure',
    isHollow: false,
    mean: ratio ?? lower,
    lower,
    upper,
  };
}

function perMin({ pulses, ms }: { pulses: number; ms: number }): string {
  return ms === 0 ? 'no exposure' : formatRate((MINUTE_MS * pulses) / ms);
}

function BinTable({ comparison, place }: { comparison: Comparison; place: string }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={`Bins that both periods share, ${place}`}>
      <table>
        <caption>Bins shared: rates per minute of running</caption>
        <ColumnHeads titles={['Conditions', 'Before', 'Running before', 'After', 'Running after']} />
        <tbody>
          {comparison.bins_used.map(({ bin, a, b }) => (
            <tr key={bin}>
              <th scope="row">{describeBin(bin)}</th>
              <td class="number">{perMin(b)}</td>
              <td class="number">{formatRunning(b.ms)}</td>
              <td class="number">{perMin(a)}</td>
              <td class="number">{formatRunning(a.ms)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function LeftOut({ comparison }: { comparison: Comparison }) {
  if (comparison.bins_left_out.length === 0) return <p class="quiet">No bin was left out.</p>;
  return (
    <>
      <h4>Left out</h4>
      <ul>
        {comparison.bins_left_out.map(({ bin, reason, ms }) => (
          <li key={bin + reason}>
            {describeBin(bin)}: {reason} ({formatRunning(ms)})
          </li>
        ))}
      </ul>
    </>
  );
}

function Told({ comparison, place }: { comparison: Comparison; place: string }) {
  const { a, b, notes, method, days } = comparison;
  const limits = days === null ? 'limits from the dispersion of the counts' : `limits from ${days} days`;
  return (
    <>
      <ul class="sides">
        {[['Before', b] as const, ['After', a] as const].map(([word, side]) => (
          <li key={word}>
            <strong>{word}:</strong>{' '}
            {side.from === null || side.to === null ? (
              'nothing ran'
            ) : (
              <Period from={side.from} to={side.to} />
            )}
            , {formatCount(side.pulses)} pulses in {formatRunning(side.ms)} of shared running
          </li>
        ))}
      </ul>
      {method !== null && (
        <IntervalChart
          rows={[toRow(comparison, 'after / before')]}
          title="Ratio of the rate after to the rate before, with 95 % limits; the sentence above has the figures"
          unit="times as often after as before, logarithmic"
          reference={1}
          referenceWord="no change"
        />
      )}
      <p class="quiet">
        Mantel-Haenszel ratio over the shared bins, {limits}; shared running{' '}
        {formatRunning(comparison.shared_ms)}.
      </p>
      <BinTable comparison={comparison} place={place} />
      <LeftOut comparison={comparison} />
      {notes.map((note) => (
        <p key={note}>{note}</p>
      ))}
    </>
  );
}

export function PositionAnswer({ sensor, action }: { sensor: string; action: ActionRow }) {
  const { body, problem } = useBody<Answer>('/compare', { sensor, question: 'around', action: action.id });
  const position = sensor.split('/')[1] ?? '';
  return (
    <section class="panel" aria-labelledby={`around-${position}`}>
      <h2 id={`around-${position}`}>{namePosition(position)}</h2>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null && problem === null && <p class="quiet">Comparing…</p>}
      {body !== null && (
        <>
          <p class="answer-sentence">{body.sentence}</p>
          {body.missing !== '' && !body.sentence.includes(body.missing) && (
            <p class="is-missing">
              <strong>Still missing:</strong> {body.missing}.
            </p>
          )}
          <div class={body.comparison === null ? '' : 'chart-and-table'}>
            <Periods sensor={sensor} action={action} comparison={body.comparison} />
            {body.comparison !== null && (
              <div>
                <Told comparison={body.comparison} place={namePosition(position)} />
              </div>
            )}
          </div>
        </>
      )}
    </section>
  );
}
