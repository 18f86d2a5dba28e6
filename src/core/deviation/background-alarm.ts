/**
 * `background-high`: counts without own modulation, judged at the end of each hour that held some. Two loud hours decide, for a
 * neighbour may start or stop in one, and one burst must not count twice: a motor that stands for minutes an hour is judged
 * over several hours at once, and a burst in one of them keeps the sum high until that hour leaves it.
 */
import { poissonLimits } from '../../stats/poisson.js';
import { alarmOf, transition } from '../alarm.js';
import { format } from '../figures.js';
import type { DeviationAlarmPlan } from '../plan.js';
import type { CoreState, SensorState } from '../state.js';
import { addBackground, backgroundDispersion, backgroundSetpoint } from './background.js';
import { freeze } from './evidence.js';
import { confidenceOf } from './excess.js';
import type { DatedBackground } from './watch-state.js';

/** Newest hours with background that are judged and not yet part of the past. */
const HOURS_HELD = 24;
/** Below so many counts a minute nobody need look, whatever the past says. Our choice. */
const LEAST_PER_MIN = 1;
const HOURS_MIN_MS = 60_000;
/** Loud hours, since the sum of the newest ones became high, that raise. */
const LOUD_HOURS = 2;

interface Judged {
  from: number;
  pulses: number;
  ms: number;
}

/** Newest hours of at least `windowMs` background; null: not so much since `since`. */
function newest(hours: readonly DatedBackground[], windowMs: number, since: number): Judged | null {
  const sum: Judged = { from: 0, pulses: 0, ms: 0 };
  for (let i = hours.length - 1; i >= 0 && hours[i]!.hour >= since; i--) {
    sum.pulses += hours[i]!.pulses;
    sum.ms += hours[i]!.ms;
    sum.from = hours[i]!.hour;
    if (sum.ms >= windowMs) return sum;
  }
  return null;
}

/** Takes the background of a closed hour and decides. `plan` undefined: it is only remembered. */
export function evaluateBackground(
  state: CoreState,
  sensor: SensorState,
  plan: DeviationAlarmPlan | undefined,
  { hour, pulses, ms }: DatedBackground,
): void {
  if (ms < HOURS_MIN_MS) return;
  const { watch } = sensor;
  const record = plan === undefined ? undefined : state.alarms.get(plan.id);
  // in order of time: an hour may come late
  const place = watch.background.findIndex((held) => held.hour > hour);
  watch.background.splice(place < 0 ? watch.background.length : place, 0, { hour, pulses, ms });
  while (watch.background.length > HOURS_HELD) {
    const oldest = watch.background.shift()!;
    if (record?.active !== true) addBackground(watch.past, oldest);
  }
  if (plan !== undefined) decide(state, sensor, plan, hour);
}

function decide(state: CoreState, sensor: SensorState, plan: DeviationAlarmPlan, hour: number): void {
  const { past, background } = sensor.watch;
  const own =
    plan.setpointPerMin === null
      ? backgroundSetpoint(past, plan.factor, LEAST_PER_MIN)
      : { perMin: plan.setpointPerMin, dispersion: backgroundDispersion(past) };
  if (own === null) return;
  const record = alarmOf(state, plan);
  const confidence = confidenceOf(plan);
  const limits = ({ pulses, ms }: Judged) => {
    const { lower, upper } = poissonLimits(pulses, confidence, own.dispersion);
    return { lower: lower / (ms / 60_000), upper: upper / (ms / 60_000) };
  };
  const finish = (judged: Judged, raised: boolean): void => {
    const { lower, upper } = limits(judged);
    const perMin = judged.pulses / (judged.ms / 60_000);
    const counted = `${format(perMin)} per minute (${format(lower)} to ${format(upper)}) without own modulation`;
    const evidence = freeze(state, sensor, plan, {
      ...judged,
      to: hour + 3_600_000,
      ratio: perMin / own.perMin,
      lower: lower / own.perMin,
      upper: upper / own.perMin,
      expected: own.perMin * (judged.ms / 60_000),
      dispersion: own.dispersion,
      confidence,
      setpoint: 1,
      says: raised
        ? `${sensor.key} counts ${counted}: even the lower limit lies above ${format(own.perMin)} per minute`
        : `${sensor.key} is back at ${counted}, below ${format(own.perMin)} per minute`,
    });
    // what was alarmed on, and what led to it, is never part of the past
    if (!raised) sensor.watch.background = background.filter((held) => held.hour >= judged.from);
    record.onMs = 0;
    record.returnFrom = raised ? hour + 3_600_000 : null;
    const at = hour + 3_600_000;
    transition(
      state,
      record,
      raised ? { kind: 'raise', at, evidence, latching: plan.latching } : { kind: 'return', at, evidence },
    );
  };
  if (record.active) {
    const low = own.perMin * (1 - plan.deadbandShare);
    for (let ms = plan.windowMs; ms <= HOURS_HELD * 3_600_000; ms *= 2) {
      const judged = newest(background, ms, record.returnFrom ?? 0);
      if (judged === null) return;
      if (limits(judged).upper >= low) continue;
      finish(judged, false);
      return;
    }
    return;
  }
  const judged = newest(background, plan.windowMs, 0);
  const isHigh = judged !== null && limits(judged).lower > own.perMin;
  const before = record.returnFrom;
  record.returnFrom = isHigh ? (before ?? hour) : null;
  // counted from the hours as they stand: what made one loud may have been found common since
  const since = record.returnFrom ?? Infinity;
  const loud = background.filter(
    (held) => held.hour >= since && held.pulses / (held.ms / 60_000) > own.perMin,
  );
  record.onMs = loud.length;
  if (isHigh && loud.length >= LOUD_HOURS) finish(judged, true);
  else if (record.returnFrom !== before) state.out.alarms.push(record);
}
