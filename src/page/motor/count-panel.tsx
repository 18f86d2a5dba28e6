/** Counts over a set time: between the two marks of the chart, and from now on beside a portable counter. */
import { useEffect, useMemo, useState } from 'preact/hooks';
import type { CountBody, LiveCountBody } from '../../../shared/counts.js';
import { nameSpan } from '../charts/span.js';
import { fetchBody, postBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { mayAct } from '../data/session.js';
import { readNow, zone } from '../data/clock.js';
import { followJob } from '../data/follow-job.js';
import { LatestLoad } from '../data/latest-load.js';
import { namePosition } from '../parts/alarm-words.js';
import { ProblemNote } from '../parts/problem-note.js';
import { sayLimited } from '../parts/rate-limits.js';
import { formatCount, formatExact, formatRunning, formatSpan } from '../times.js';
import type { ChartModel } from './chart-model.js';

const ASK_EVERY_MS = 1_000;
const DURATIONS: readonly (readonly [label: string, ms: number])[] = [
  ['10 s', 10_000],
  ['30 s', 30_000],
  ['1 min', 60_000],
  ['5 min', 300_000],
  ['10 min', 600_000],
];

function nameSensor(sensor: string): string {
  return namePosition(sensor.split('/')[1] ?? '');
}

function CountResult({ count }: { count: CountBody }) {
  const { rate_per_min: rate, lower_per_min: lower, upper_per_min: upper } = count;
  return (
    <div class="count-result">
      <p>
        <strong>{nameSensor(count.sensor)}:</strong> {formatCount(count.pulses)} pulses in {count.increments}{' '}
        increments, {formatCount(count.classes.running.pulses)} of them running in{' '}
        {formatRunning(count.classes.running.ms)}
        {rate === null
          ? ''
          : `; rate ${sayLimited({ mean: rate, lower: lower ?? 0, upper })} a minute, with 95 % limits`}
        .
      </p>
      <p class="quiet">{count.says}</p>
    </div>
  );
}

/** Between A and B. The gateway counts whole increments over seven days at the most. */
function MarkedCount({ model, sensors }: { model: ChartModel; sensors: readonly string[] }) {
  const counting = useMemo(() => new LatestLoad<readonly CountBody[]>(), [model]);
  useEffect(() => () => counting.end(), [counting]);
  const span = model.marked.value;
  // marks that were moved, and an answer that was overtaken: what was counted between others is not shown under these
  const found = span === null ? null : counting.of(nameSpan(span));
  const count = (): void => {
    if (span === null) return;
    const to = Math.min(span.to, Math.floor(readNow()));
    void counting.load(nameSpan(span), (signal) =>
      Promise.all(
        sensors.map((sensor) => fetchBody<CountBody>('/counts', { sensor, from: span.from, to }, signal)),
      ),
    );
  };
  const cursor = model.seenCursor.value;
  const place = (mark: 'markA' | 'markB'): void => {
    const { from, to } = model.span.value;
    model[mark].value = cursor ?? Math.round(from + (mark === 'markA' ? 1 / 3 : 2 / 3) * (to - from));
  };
  return (
    <section aria-labelledby="marked-title">
      <h3 id="marked-title">Between two marks</h3>
      <div class="button-row">
        <button type="button" onClick={() => place('markA')}>
          Set A
        </button>
        <button type="button" onClick={() => place('markB')}>
          Set B
        </button>
        <button class="primary" type="button" disabled={span === null} onClick={count}>
          Count
        </button>
      </div>
      <p class="quiet">
        {span === null
          ? 'Click or tap the chart where it shall begin and set A, then where it shall end and set B.'
          : `${formatExact(span.from, zone.value)} to ${formatExact(span.to, zone.value)}: ${formatSpan(span.to - span.from)}`}
      </p>
      {found !== null && found.problem !== null && <ProblemNote problem={found.problem} />}
      <div aria-live="polite">
        {found?.body?.map((each) => (
          <CountResult key={each.sensor} count={each} />
        ))}
      </div>
    </section>
  );
}

const STATE_WORDS: Readonly<Record<LiveCountBody['state'], string>> = {
  counting: 'counting',
  settling: 'time is over; its last readings are still to come',
  done: 'done',
  incomplete: 'incomplete: readings have not come in time',
};

function isGoingOn({ state }: LiveCountBody): boolean {
  return state === 'counting' || state === 'settling';
}

/** Followed to its end, or until the gateway knows of it no more because it was started again. */
function useLiveCount(): [LiveCountBody | null, ApiProblem | null, (sensor: string, ms: number) => void] {
  const [live, setLive] = useState<LiveCountBody | null>(null);
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const id = live !== null && isGoingOn(live) ? live.id : null;
  useEffect(() => {
    if (id === null) return undefined;
    return followJob<LiveCountBody>({
      ...{ path: `/counts/${id}`, everyMs: ASK_EVERY_MS, take: setLive, tell: setProblem },
      isOver: (found) => !isGoingOn(found),
    });
  }, [id]);
  const start = (sensor: string, ms: number): void => {
    setProblem(null);
    postBody<LiveCountBody>('/counts', { sensor, for_ms: ms }).then(setLive, (error: unknown) =>
      setProblem(toProblem(error)),
    );
  };
  return [live, problem, start];
}

function TimedCount({ sensors }: { sensors: readonly string[] }) {
  const [sensor, setSensor] = useState(sensors[0] ?? '');
  const [ms, setMs] = useState(60_000);
  const [live, problem, start] = useLiveCount();
  const isGoing = live !== null && isGoingOn(live);
  return (
    <section aria-labelledby="timed-title">
      <h3 id="timed-title">From now on</h3>
      <div class="button-row">
        <label>
          Sensor
          <select value={sensor} onChange={(event) => setSensor(event.currentTarget.value)}>
            {sensors.map((each) => (
              <option key={each} value={each}>
                {nameSensor(each)}
              </option>
            ))}
          </select>
        </label>
        <label>
          For
          <select value={ms} onChange={(event) => setMs(Number(event.currentTarget.value))}>
            {DURATIONS.map(([label, length]) => (
              <option key={length} value={length}>
                {label}
              </option>
            ))}
          </select>
        </label>
        <button class="primary" type="button" disabled={isGoing} onClick={() => start(sensor, ms)}>
          Start
        </button>
      </div>
      {problem !== null && <ProblemNote problem={problem} />}
      {live !== null && (
        <div>
          <p role="status">
            {nameSensor(live.sensor)}: {STATE_WORDS[live.state]}
          </p>
          <progress max={1} value={live.progress} aria-label="Share of the time that is over" />
          {live.result !== null && <CountResult count={live.result} />}
        </div>
      )}
    </section>
  );
}

export function CountPanel({ model, sensors }: { model: ChartModel; sensors: readonly string[] }) {
  return (
    <div class="panel count-panel">
      <h2>Count over a set time</h2>
      <MarkedCount model={model} sensors={sensors} />
      {mayAct() && <TimedCount sensors={sensors} />}
    </div>
  );
}
