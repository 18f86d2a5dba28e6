/**
 * A rate that hovers at the setpoint for a month, in bursts: how often an alarm is raised by four rules on the very same counts,
 * and how long each of them takes to raise when the rate really steps up. The last rule is the product's, through its live code.
 */
import { openStream, type Random } from '../../simulator/random.js';
import { openNoise, type Noise, type Shape } from '../score/noise.js';
import { RateMotor } from '../support/rate-motor.js';
import { formatTable } from './table.js';

const DAY = 8640;
const WINDOWS_PER_MIN = 6;
export const STEPS = [1.5, 2, 3] as const;
export const RULES = ['plain', 'fixed', 'averaged', 'product'] as const;
export type Rule = (typeof RULES)[number];

function forEach<T>(make: (rule: Rule) => T): Record<Rule, T> {
  return Object.fromEntries(RULES.map((rule) => [rule, make(rule)])) as Record<Rule, T>;
}

/** Looks at one 10 s count after another; true: the alarm stands. */
type Watch = (pulses: number) => boolean;

/** (a) Stands while the count of the last 10 s lies above the setpoint. */
function watchPlain(setpointPerMin: number): Watch {
  return (pulses) => pulses * WINDOWS_PER_MIN > setpointPerMin;
}

interface FixedRule {
  /** windows that the count is averaged over */
  readonly averaged: number;
  /** windows in a row above the setpoint, and below setpoint − deadband */
  readonly on: number;
  readonly off: number;
}

/** (b) As process alarms are often set: the mean of a minute, a deadband of a tenth, delays of a minute. */
const FIXED: FixedRule = { averaged: 6, on: 6, off: 6 };
/** The same with the product's own window and delays: the mean of ten minutes, 5 min on, 10 min off. */
const AVERAGED: FixedRule = { averaged: 60, on: 30, off: 60 };

function watchFixed(setpointPerMin: number, { averaged, on, off }: FixedRule): Watch {
  const newest = new Float64Array(averaged);
  let at = 0;
  let sum = 0;
  let active = false;
  let run = 0;
  return (pulses) => {
    sum += pulses - newest[at % averaged]!;
    newest[at % averaged] = pulses;
    at += 1;
    const perMin = (sum * WINDOWS_PER_MIN) / averaged;
    const moves = active ? perMin < 0.9 * setpointPerMin : perMin > setpointPerMin;
    run = moves ? run + 1 : 0;
    if (run < (active ? off : on)) return active;
    run = 0;
    active = !active;
    return active;
  };
}

function watchProduct(setpointPerMin: number): Watch {
  const motor = new RateMotor(setpointPerMin, { deadbandPerMin: 0.1 * setpointPerMin });
  return (pulses) => {
    motor.run(pulses);
    return motor.isActive;
  };
}

function watchesOf(setpointPerMin: number): Record<Rule, Watch> {
  return {
    plain: watchPlain(setpointPerMin),
    fixed: watchFixed(setpointPerMin, FIXED),
    averaged: watchFixed(setpointPerMin, AVERAGED),
    product: watchProduct(setpointPerMin),
  };
}

export interface HoverWish {
  readonly shape: Shape;
  readonly dispersion: number;
  readonly ratePerMin: number;
  readonly burstS: number;
  readonly days: number;
  readonly seeds: number;
}

export interface HoverResult {
  readonly wish: HoverWish;
  /** raises a day, over all seeds */
  readonly perDay: Record<Rule, number>;
  /** minutes from a step of the rate to the raise, by the height of the step: median over the seeds; null: half were never raised within 3 days */
  readonly delayMin: Record<Rule, (number | null)[]>;
}

function countRaises(noise: Noise, watches: Record<Rule, Watch>, windows: number): Record<Rule, number> {
  const counts = forEach(() => 0);
  const stood = forEach(() => false);
  for (let i = 0; i < windows; i++) {
    const pulses = noise(1);
    for (const rule of RULES) {
      const stands = watches[rule](pulses);
      if (stands && !stood[rule]) counts[rule] += 1;
      stood[rule] = stands;
    }
  }
  return counts;
}

/** Minutes until each rule stands (0: it stood already) after the rate, for two days at 0.7 of the setpoint, has stepped to `step` times it. */
function timeStep(random: Random, wish: HoverWish, step: number): Record<Rule, number> {
  const noise = openNoise(random, { ...wish, ratePerS: wish.ratePerMin / 60 });
  const watches = watchesOf(wish.ratePerMin);
  const delay = forEach(() => Infinity);
  const stands = forEach(() => false);
  for (let i = 0; i < 2 * DAY; i++) {
    const pulses = noise(0.7);
    for (const rule of RULES) stands[rule] = watches[rule](pulses);
  }
  for (const rule of RULES) if (stands[rule]) delay[rule] = 0;
  for (let i = 1; i <= 3 * DAY && RULES.some((rule) => delay[rule] === Infinity); i++) {
    const pulses = noise(step);
    for (const rule of RULES)
      if (watches[rule](pulses) && delay[rule] === Infinity) delay[rule] = i / WINDOWS_PER_MIN;
  }
  return delay;
}

function middle(values: number[]): number | null {
  const found = values.sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? Infinity;
  return found === Infinity ? null : found;
}

export function measureHover(wish: HoverWish): HoverResult {
  const perDay = forEach(() => 0);
  const delays = forEach((): number[][] => []);
  for (let seed = 1; seed <= wish.seeds; seed++) {
    const stream = (name: string): Random =>
      openStream(seed, 'hover', wish.shape, String(wish.dispersion), name);
    const noise = openNoise(stream('hover'), { ...wish, ratePerS: wish.ratePerMin / 60 });
    const counts = countRaises(noise, watchesOf(wish.ratePerMin), wish.days * DAY);
    for (const rule of RULES) perDay[rule] += counts[rule] / (wish.days * wish.seeds);
    STEPS.forEach((step, i) => {
      const found = timeStep(stream(`step ${step}`), wish, step);
      for (const rule of RULES) (delays[rule][i] ??= []).push(found[rule]);
    });
  }
  return { wish, perDay, delayMin: forEach((rule) => delays[rule].map(middle)) };
}

function formatDelay(minutes: number | null): string {
  return minutes === null ? 'not in 3 days' : `${minutes < 10 ? minutes.toFixed(1) : minutes.toFixed(0)} min`;
}

/** Two tables: raises a day while the rate hovers, and delays after a step. */
export function formatHover(results: readonly HoverResult[]): string {
  const nameOf = ({ wish }: HoverResult): string => `${wish.shape}, dispersion ${wish.dispersion}`;
  const { days, seeds, ratePerMin, burstS } = results[0]!.wish;
  const title = `rate of ${ratePerMin} a minute at its setpoint, bursts of ${burstS} s, ${days} days, ${seeds} seeds: raises a day`;
  const raises = results.map((result) => [
    nameOf(result),
    ...RULES.map((rule) => result.perDay[rule].toFixed(rule === 'plain' ? 0 : 2)),
  ]);
  const delays = results.flatMap((result) =>
    STEPS.map((step, i) => [
      `${nameOf(result)}, to ${step} times`,
      ...RULES.map((rule) => formatDelay(result.delayMin[rule][i] ?? null)),
    ]),
  );
  const after = 'from 0.7 of the setpoint to so many times it: delay, median';
  return `${title}\n${formatTable([['noise', ...RULES], ...raises])}\n${after}\n${formatTable([['noise', ...RULES], ...delays])}`;
}
