/** How the alarm system does: each figure beside what is published, alarms day by day, and which alarms are a nuisance. */
import { useMemo } from 'preact/hooks';
import type { Performance } from '../data/bodies.js';
import { readNow, zone } from '../data/clock.js';
import { ProblemNote } from '../parts/problem-note.js';
import { useBody } from '../parts/use-body.js';
import { setParameters } from '../router.js';
import { DAY_MS, formatDay, formatExact, HOUR_MS } from '../times.js';
import { DayBars } from './day-bars.js';
import { formatFigure } from './performance-figure.js';

const SPANS: Readonly<Record<string, readonly [name: string, days: number]>> = {
  day: ['24 hours', 1],
  week: ['7 days', 7],
  month: ['30 days', 30],
  quarter: ['90 days', 90],
};

const VERDICTS = { within: 'within', manageable: 'manageable', beyond: 'beyond' } as const;

function sayTimes(count: number): string {
  return count === 1 ? 'once' : `${count} times`;
}

function Figures({ figures }: { figures: Performance['figures'] }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Figures">
      <table>
        <thead>
          <tr>
            <th scope="col">Alarms</th>
            <th scope="col" class="number">
              Here
            </th>
            <th scope="col">Published</th>
            <th scope="col">Judged</th>
            <th scope="col">Source</th>
          </tr>
        </thead>
        <tbody>
          {figures.map(({ name, title, unit, value, verdict, published }) => (
            <tr key={name}>
              <th scope="row">{title}</th>
              <td class="number">
                {formatFigure(value, unit)}
                {unit !== 'share' && unit !== 'alarms' && value !== null ? (
                  <span class="quiet"> {unit}</span>
                ) : null}
              </td>
              <td>{published?.says ?? '–'}</td>
              <td>
                {verdict === null ? (
                  '–'
                ) : (
                  <span class={`verdict verdict-${verdict}`}>{VERDICTS[verdict]}</span>
                )}
              </td>
              <td class="quiet">{published?.source ?? ''}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function Counted({ title, rows }: { title: string; rows: readonly { alarm: string; text: string }[] }) {
  if (rows.length === 0) return null;
  return (
    <section>
      <h2>{title}</h2>
      <ul class="plain">
        {rows.map(({ alarm, text }, place) => (
          <li key={`${alarm} ${place}`}>
            <a class="row-link" href={`/alarms/${encodeURIComponent(alarm)}`}>
              {alarm}
            </a>{' '}
            {text}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Nuisances({ body }: { body: Performance }) {
  const exact = (text: string): string => formatExact(Date.parse(text), zone.value);
  const times = (rows: Performance['chattering']) =>
    rows.map(({ alarm, count }) => ({ alarm, text: sayTimes(count) }));
  return (
    <div class="nuisances">
      <Counted
        title="Most frequent"
        rows={body.frequent.map(({ alarm, count, share }) => ({
          alarm,
          text: `${sayTimes(count)}, ${(100 * share).toFixed(0)} % of all`,
        }))}
      />
      <Counted title="Chattering: three within a minute" rows={times(body.chattering)} />
      <Counted title="Fleeting: gone within a minute" rows={times(body.fleeting)} />
      <Counted
        title="Stale: standing for over 24 h"
        rows={body.stale.map(({ alarm, since }) => ({ alarm, text: `since ${exact(since)}` }))}
      />
      <Counted
        title="Acknowledged too late, or not"
        rows={body.late.map(({ alarm, at, acknowledged_at: done }) => ({
          alarm,
          text: `${exact(at)}, ${done === null ? 'not yet' : `answered ${exact(done)}`}`,
        }))}
      />
      <Counted
        title="On the shelf"
        rows={body.shelved.map(({ alarm, until, by, why }) => ({
          alarm,
          text: `until ${exact(until)}, ${by}: ${why}`,
        }))}
      />
      <Counted
        title="Out of service"
        rows={body.out_of_service.map(({ alarm, by, why }) => ({ alarm, text: `${by}: ${why}` }))}
      />
    </div>
  );
}

function Covered({ body }: { body: Performance }) {
  if (body.covered === null) return <p>The journal tells of nothing in this time.</p>;
  const { from, to } = body.covered;
  const hours = (Date.parse(to) - Date.parse(from)) / HOUR_MS;
  return (
    <p>
      {body.alarms} alarms were told to the operator from {formatExact(Date.parse(from), zone.value)} to{' '}
      {formatExact(Date.parse(to), zone.value)} ({hours.toFixed(0)} h that the journal tells of), shared by{' '}
      {body.positions} operator {body.positions === 1 ? 'position' : 'positions'}. Floods:{' '}
      {body.floods.length}.
    </p>
  );
}

export function PerformancePart({ query }: { query: URLSearchParams }) {
  const span = query.get('span') ?? 'month';
  const positions = query.get('positions') ?? '1';
  const days = (SPANS[span] ?? SPANS['month']!)[1];
  const from = useMemo(() => readNow() - days * DAY_MS, [days]);
  const { body, problem } = useBody<Performance>('/alarms/performance', { from, positions });
  return (
    <section aria-labelledby="performance-title" class="performance">
      <h1 id="performance-title">How the alarms do</h1>
      <form class="filters" aria-label="Time and people" onSubmit={(event) => event.preventDefault()}>
        <label>
          The last
          <select value={span} onChange={(event) => setParameters({ span: event.currentTarget.value })}>
            {Object.entries(SPANS).map(([value, [name]]) => (
              <option key={value} value={value}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <label>
          Operator positions
          <input
            type="number"
            min={1}
            max={20}
            value={positions}
            onChange={(event) => setParameters({ positions: event.currentTarget.value })}
          />
        </label>
      </form>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null ? (
        problem === null && <p class="quiet">Reading the journal…</p>
      ) : (
        <>
          <Covered body={body} />
          <DayBars
            days={body.days.map((day) => ({ ...day, name: formatDay(Date.parse(day.from), zone.value) }))}
          />
          <Figures figures={body.figures} />
          <Nuisances body={body} />
        </>
      )}
    </section>
  );
}
