/**
 * Where pulses come from. Each cause is a Poisson process of its own whose rate is constant over short stretches; its
 * pulses go into one train per sensor. The bearing's own discharge comes in bursts and follows speed, warmth and wear.
 * Source: processes are our choice, shaped after what is commonly reported: irregular bursts of seconds to minutes,
 * more at speed, more as grease and bearing age.
 */
import { drawIntervals, drawTimes, type Interval } from './happenings.js';
import { cellAt, isRunning, type MotorLife } from './motor.js';
import { Cause, type PulseCollector } from './pulses.js';
import { openStream, type Random } from './random.js';
import type { DischargeScenario, SensorScenario, SiteBurstScenario } from './scenario.js';

const MINUTE_MS = 60_000;
const WARM_C = 40;
/** Above so many pulses a millisecond, pulses are drawn by the group. */
const GROUP_RATE_PER_MS = 0.2;
const GROUP_MS = 25;

/** A burst that the whole zone hears. */
export interface SiteBurst extends Interval {
  readonly zone: string | null;
  readonly pulsesPerS: number;
  readonly sensorShare: number;
}

/** All the bursts of the run, ascending within each entry of the scenario. */
export function drawSiteBursts(
  wishes: readonly SiteBurstScenario[],
  seed: number,
  span: Interval,
): SiteBurst[] {
  return wishes.flatMap((wish, i) => {
    const random = openStream(seed, 'site-burst', String(i));
    return drawIntervals(random, wish, span, wish.meanSeconds * 1_000).map((interval) => ({
      ...interval,
      zone: wish.zone,
      pulsesPerS: wish.pulsesPerS,
      sensorShare: wish.sensorShare,
    }));
  });
}

/** Fires every pulse that a sensor could hear within the span. `checks`: stretches of function check of its device. */
export function dischargeSensor(
  sensor: SensorScenario,
  key: string,
  own: MotorLife,
  lives: ReadonlyMap<string, MotorLife>,
  siteBursts: readonly SiteBurst[],
  checks: readonly Interval[],
  seed: number,
  span: Interval,
  into: PulseCollector,
): void {
  const stream = (name: string): Random => openStream(seed, key, name);
  fireOwn(sensor.discharge, own, stream('own'), stream('bursts'), span, into);
  fireEdges(sensor.discharge, own, stream('edges'), span, into);
  fireCrosstalk(sensor.discharge, lives, stream('crosstalk'), span, into);
  const random = stream('site');
  for (const burst of siteBursts) {
    if (burst.zone !== null && burst.zone !== own.scenario.zone) continue;
    if (random.chance(burst.sensorShare))
      fireSteady(random, clip(burst, span), burst.pulsesPerS / 1_000, Cause.site, into);
  }
  fireSteady(
    stream('background'),
    span,
    sensor.discharge.backgroundPerMin / MINUTE_MS,
    Cause.background,
    into,
  );
  const check = stream('check');
  for (const interval of checks) {
    fireSteady(check, clip(interval, span), sensor.device.checks.pulsesPerS / 1_000, Cause.check, into);
  }
}

function clip(interval: Interval, span: Interval): Interval {
  return { from: Math.max(interval.from, span.from), to: Math.min(interval.to, span.to) };
}

/** A Poisson process of constant rate over one stretch. */
function fireSteady(
  random: Random,
  { from, to }: Interval,
  ratePerMs: number,
  cause: Cause,
  into: PulseCollector,
): void {
  if (ratePerMs <= 0 || to <= from) return;
  if (ratePerMs > GROUP_RATE_PER_MS) {
    for (let at = from; at < to; at += GROUP_MS) {
      const lengthMs = Math.min(GROUP_MS, to - at);
      into.add(at + Math.floor(random.unit() * lengthMs), cause, random.poisson(ratePerMs * lengthMs));
    }
    return;
  }
  for (let at = from + random.exponential(1 / ratePerMs); at < to; at += random.exponential(1 / ratePerMs)) {
    into.add(Math.floor(at), cause, 1);
  }
}

function fireOwn(
  wish: DischargeScenario,
  life: MotorLife,
  random: Random,
  burstRandom: Random,
  span: Interval,
  into: PulseCollector,
): void {
  const bursts = drawBursts(wish, burstRandom, span);
  const rates = buildRates(wish, life, span);
  for (const phase of life.phases) {
    const isPreheating = phase.state === 'stopped' && phase.modulating;
    if (!isRunning(phase) && !isPreheating) continue;
    const phaseFactor = isPreheating ? wish.preheatShare : 1;
    for (const stretch of cutByCells(clip(phase, span), life)) {
      const ratePerMs = rates[cellAt(life, stretch.from)]! * phaseFactor;
      for (const piece of cutByBursts(stretch, bursts)) {
        fireSteady(random, piece, ratePerMs * (piece.isBurst ? wish.bursts.factor : 1), Cause.own, into);
      }
    }
  }
}

function drawBursts(wish: DischargeScenario, random: Random, span: Interval): Interval[] {
  const { perHour, meanSeconds } = wish.bursts;
  return drawTimes(random, { perDay: perHour * 24, atMinutes: [] }, span).map((from) => ({
    from,
    to: from + Math.ceil(random.exponential(meanSeconds * 1_000)),
  }));
}

/** Pulses a millisecond outside bursts, per condition cell. */
function buildRates(wish: DischargeScenario, life: MotorLife, span: Interval): Float64Array {
  const rated = life.scenario.speed.ratedRpm;
  return life.speedRpm.map((rpm, cell) => {
    const middle = life.from + (cell + 0.5) * life.cellMs;
    const warmth = Math.max(0, 1 + wish.temperaturePerK * (life.temperatureC[cell]! - WARM_C));
    const speed = (rpm / rated) ** wish.speedExponent;
    return (wish.ratePerMin / MINUTE_MS) * speed * warmth * findWear(wish, (middle - span.from) / MINUTE_MS);
  });
}

/** The factor by which the bearing's condition multiplies its rate, so many minutes after the beginning. */
export function findWear(wish: Pick<DischargeScenario, 'condition'>, minute: number): number {
  let wear = 1;
  for (const step of wish.condition) {
    if (minute < step.atMinute) break;
    const ramp = step.rampMinutes ?? 0;
    const reached = ramp > 0 ? Math.min(1, (minute - step.atMinute) / ramp) : 1;
    wear += (step.factor - wear) * reached;
  }
  return wear;
}

function* cutByCells({ from, to }: Interval, life: MotorLife): Generator<Interval> {
  for (let at = from; at < to;) {
    const cellEnd = life.from + (Math.floor((at - life.from) / life.cellMs) + 1) * life.cellMs;
    const end = Math.min(to, cellEnd);
    yield { from: at, to: end };
    at = end;
  }
}

function* cutByBursts(
  { from, to }: Interval,
  bursts: readonly Interval[],
): Generator<Interval & { isBurst: boolean }> {
  let at = from;
  for (const burst of bursts) {
    if (burst.to <= at) continue;
    if (burst.from >= to) break;
    if (burst.from > at) yield { from: at, to: burst.from, isBurst: false };
    const end = Math.min(to, burst.to);
    yield { from: Math.max(at, burst.from), to: end, isBurst: true };
    at = end;
  }
  if (at < to) yield { from: at, to, isBurst: false };
}

const TRIP_MS = 800;

/** The drive's own start and stop: pulses spread over the ramp, or within the first moments of a trip. */
function fireEdges(
  wish: DischargeScenario,
  life: MotorLife,
  random: Random,
  span: Interval,
  into: PulseCollector,
): void {
  let before = life.phases[0]!;
  for (const phase of life.phases) {
    if (phase.from >= span.from) {
      if (phase.state === 'starting') scatter(random, clip(phase, span), wish.startPulses, Cause.start, into);
      const isTrip = before.modulating && !phase.modulating && before.state !== 'stopping';
      const stop =
        phase.state === 'stopping' ? phase : isTrip ? { from: phase.from, to: phase.from + TRIP_MS } : null;
      if (stop !== null) scatter(random, clip(stop, span), wish.stopPulses, Cause.stop, into);
    }
    before = phase;
  }
}

function scatter(
  random: Random,
  { from, to }: Interval,
  mean: number,
  cause: Cause,
  into: PulseCollector,
): void {
  if (to <= from) return;
  for (let left = random.poisson(mean); left > 0; left--)
    into.add(from + Math.floor(random.unit() * (to - from)), cause, 1);
}

/** What neighbouring drives put into this sensor: a click when they switch, a murmur while they modulate. */
function fireCrosstalk(
  wish: DischargeScenario,
  lives: ReadonlyMap<string, MotorLife>,
  random: Random,
  span: Interval,
  into: PulseCollector,
): void {
  const { from: neighbours, switchingPulses, spreadMs, ratePerMin } = wish.crosstalk;
  for (const neighbour of neighbours) {
    const phases = lives.get(neighbour)?.phases ?? [];
    phases.forEach((phase, i) => {
      const before = phases[i - 1];
      if (before !== undefined && before.modulating !== phase.modulating && phase.from >= span.from) {
        const click = clip({ from: phase.from, to: phase.from + spreadMs }, span);
        scatter(random, click, switchingPulses, Cause.crosstalk, into);
      }
      if (phase.modulating)
        fireSteady(random, clip(phase, span), ratePerMin / MINUTE_MS, Cause.crosstalk, into);
    });
  }
}
