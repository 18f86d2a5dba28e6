/** The view "Motor": rates of its positions over any span with all that lies on the same time axis, and what can be entered. */
import { useEffect, useMemo } from 'preact/hooks';
import type { MotorBody } from '../data/bodies.js';
import { mayAct } from '../data/session.js';
import { onLive } from '../data/live-events.js';
import { now, readNow } from '../data/clock.js';
import { motorKeys, motorOf } from '../data/plant.js';
import { endNow, isAtNow, keepInTime, type Span } from '../charts/span.js';
import { ProblemNote } from '../parts/problem-note.js';
import { RunState } from '../parts/run-state.js';
import { openAddress, setParameters } from '../router.js';
import { DAY_MS } from '../times.js';
import type { ScreenProps } from '../view.js';
import { ChartLegend } from './chart-legend.js';
import { ChartModel } from './chart-model.js';
import { ChartToolbar } from './chart-toolbar.js';
import { CountPanel } from './count-panel.js';
import { CursorValues } from './cursor-values.js';
import { ActionForm, FindingForm } from './entry-form.js';
import { FigureTable } from './figure-table.js';
import { MarkList } from './mark-list.js';
import { TimeChart } from './time-chart.js';
import '../parts/view.css';
import './motor.css';

const ADDRESS_EVERY_MS = 800;

/** The span that the address asks for; a day up to now unless it does. */
function readSpan(query: URLSearchParams): { span: Span; isFollowing: boolean } {
  const now = readNow();
  const [from, to] = [Number(query.get('from')), Number(query.get('to'))];
  if (from > 0 && to > from) {
    const span = keepInTime({ from, to }, now);
    return { span, isFollowing: isAtNow(span, now) };
  }
  const length = Number(query.get('span'));
  return { span: endNow(length > 0 ? length : DAY_MS, now), isFollowing: true };
}

/** The address keeps the span, so that a view can be sent on; not at every step of a movement. */
function useAddress(model: ChartModel): void {
  const { from, to } = model.span.value;
  const isFollowing = model.isFollowing.value;
  const length = to - from;
  useEffect(() => {
    const timer = setTimeout(() => {
      const span = isFollowing
        ? { span: String(length), from: null, to: null }
        : { span: null, from: String(from), to: String(to) };
      setParameters(span);
    }, ADDRESS_EVERY_MS);
    return () => clearTimeout(timer);
  }, [isFollowing, length, isFollowing ? 0 : from]);
}

function MotorChoice({ current }: { current: string }) {
  return (
    <label class="beside">
      Motor
      <select
        value={current}
        onChange={(event) => openAddress(`/motor/${encodeURIComponent(event.currentTarget.value)}`)}
      >
        {current === '' && <option value="">choose one</option>}
        {(motorKeys.value ?? []).map((key) => (
          <option key={key} value={key}>
            {key}
          </option>
        ))}
      </select>
    </label>
  );
}

function MotorHead({ motor }: { motor: MotorBody }) {
  return (
    <header class="view-head motor-head">
      <h1>{motor.motor}</h1>
      <RunState motor={motor} />
      <span class="quiet motor-place">
        area {motor.zone}, duty group{' '}
        <a href={`/sisters/${encodeURIComponent(motor.duty_group)}`}>{motor.duty_group}</a>
      </span>
      <MotorChoice current={motor.motor} />
    </header>
  );
}

function MotorView({ motor, query }: { motor: MotorBody; query: URLSearchParams }) {
  const sensors = useMemo(() => motor.sensors.map(({ sensor }) => sensor), [motor.sensors.length]);
  const positions = motor.sensors.map(({ position }) => position);
  const model = useMemo(() => {
    const { span, isFollowing } = readSpan(query);
    return new ChartModel(motor.motor, sensors, span, isFollowing);
  }, [motor.motor, sensors]);
  useEffect(() => {
    const end = now.subscribe(() => model.tick());
    const again = onLive('again', () => void model.load());
    return () => {
      end();
      again();
      model.close();
    };
  }, [model]);
  useAddress(model);
  const reload = (): void => void model.load();
  return (
    <>
      <MotorHead motor={motor} />
      <ChartToolbar model={model} />
      {model.problem.value !== null && <ProblemNote problem={model.problem.value} />}
      <TimeChart model={model} motor={motor.motor} positions={positions} />
      <CursorValues model={model} />
      <ChartLegend model={model} />
      <FigureTable model={model} sensors={sensors} />
      <div class="motor-columns">
        <MarkList model={model} onChanged={reload} />
        <div>
          <CountPanel model={model} sensors={sensors} />
          {mayAct() && (
            <div class="panel">
              <h2>Enter</h2>
              <ActionForm motor={motor.motor} positions={positions} onEntered={reload} />
              <FindingForm motor={motor.motor} positions={positions} onEntered={reload} />
            </div>
          )}
        </div>
      </div>
    </>
  );
}

export function MotorScreen({ rest, query }: ScreenProps) {
  const key = rest[0] ?? '';
  const motor = motorOf(key).value;
  if (motor !== null) return <MotorView key={key} motor={motor} query={query} />;
  return (
    <>
      <h1>Motor</h1>
      {key !== '' && motorKeys.value !== null && <p>The configuration has no motor "{key}".</p>}
      {motorKeys.value === null ? <p class="quiet">Waiting for the gateway…</p> : <MotorChoice current="" />}
    </>
  );
}
