/**
 * The last day of every sensor: loaded once, then moved on by the rates that come live. A window that may be in the answer
 * already is left out, so that nothing counts twice; what that costs of a stretch is seconds, and its rate stays unbiased.
 */
import { signal, type Signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { fetchWhole } from '../data/all-pages.js';
import { toProblem, type ApiProblem } from '../data/api-client.js';
import type { RateBody, StripsBody } from '../data/bodies.js';
import { readNow } from '../data/clock.js';
import { onLive } from '../data/live-events.js';
import { loadOneByOne } from '../data/one-by-one.js';
import { HOUR_MS, MINUTE_MS } from '../times.js';

/** Late data change the past of a strip: it is loaded anew each hour. */
const RELOAD_MS = HOUR_MS;
/** After a load that failed, and how often it is looked whether one is due. */
const RETRY_MS = 15_000;

export interface DayStrip {
  /** beginning of the first stretch, ms */
  readonly from: number;
  readonly stepMs: number;
  /** pulses per minute of running; null: nothing ran */
  readonly rates: readonly (number | null)[];
  /** one letter for each stretch, as the route of the strips says */
  readonly states: string;
  /** running pulses and exposure of the last stretch */
  readonly last: { readonly pulses: number; readonly ms: number };
}

/** Where everything is silent, a single pulse does not fill the strip; per minute. */
const TOP_LEAST = 1;

/** null: loaded, or not tried yet */
export const stripsProblem = signal<ApiProblem | null>(null);
/** the highest rate of any strip; the scale of all of them */
export const stripsTop = signal(TOP_LEAST);

const strips = new Map<string, Signal<DayStrip | null>>();
let loadedAt = 0;

export function stripOf(sensor: string): Signal<DayStrip | null> {
  let cell = strips.get(sensor);
  if (cell === undefined) {
    cell = signal<DayStrip | null>(null);
    strips.set(sensor, cell);
  }
  return cell;
}

/** The strip with one more window in it; null: the window is too old for the last stretch. */
export function addWindow(strip: DayStrip, { window }: RateBody): DayStrip | null {
  const steps = strip.rates.length;
  const step = Math.floor((Date.parse(window.start) - strip.from) / strip.stepMs);
  if (step < steps - 1) return null;
  const moved = step - (steps - 1);
  const empty = { pulses: 0, ms: 0 };
  const shifted: DayStrip =
    moved === 0
      ? strip
      : {
          ...strip,
          from: strip.from + moved * strip.stepMs,
          rates: [...strip.rates.slice(moved), ...Array<null>(Math.min(moved, steps)).fill(null)],
          states: strip.states.slice(moved) + '-'.repeat(Math.min(moved, steps)),
          last: empty,
        };
  const { running, common, background, transient, unattributed } = window.classes;
  const last = { pulses: shifted.last.pulses + running.pulses, ms: shifted.last.ms + running.ms };
  const letter = [
    ['r', running.ms + common.ms],
    ['s', background.ms],
    ['t', transient.ms],
    ['u', unattributed.ms],
  ] as const;
  const most = letter.reduce((best, each) => (each[1] > best[1] ? each : best));
  const before = shifted.states.at(-1) ?? '-';
  const state = last.ms > 0 ? 'r' : before === '-' && most[1] > 0 ? most[0] : before;
  return {
    ...shifted,
    rates: [...shifted.rates.slice(0, -1), last.ms === 0 ? null : (last.pulses * MINUTE_MS) / last.ms],
    states: shifted.states.slice(0, -1) + state,
    last,
  };
}

function takeRate(rate: RateBody): void {
  if (Date.parse(rate.window.start) < loadedAt) return;
  const cell = stripOf(rate.sensor);
  if (cell.value !== null) cell.value = addWindow(cell.value, rate) ?? cell.value;
  const newest = cell.value?.rates.at(-1) ?? 0;
  if (newest > stripsTop.value) stripsTop.value = newest;
}

async function load(signal: AbortSignal): Promise<void> {
  try {
    const body = await fetchWhole<StripsBody>('/strips', 'sensors', {}, signal);
    loadedAt = Date.parse(body.now);
    let top = TOP_LEAST;
    for (const { sensor, rates_per_min: rates, states, last } of body.sensors) {
      stripOf(sensor).value = { from: Date.parse(body.from), stepMs: body.step_ms, rates, states, last };
      for (const rate of rates) top = Math.max(top, rate ?? 0);
    }
    stripsTop.value = top;
    stripsProblem.value = null;
  } catch (error) {
    if (!signal.aborted) stripsProblem.value = toProblem(error);
  }
}

/** Keeps the strips up to date until the function that it returns is called. */
export function followDayStrips(): () => void {
  const loads = loadOneByOne(load, 0);
  const timer = setInterval(() => {
    const isOld = loadedAt > 0 && readNow() - loadedAt >= RELOAD_MS;
    if (stripsProblem.value !== null || isOld) loads.wish();
  }, RETRY_MS);
  const ends = [onLive('rate', takeRate), onLive('again', loads.wish), loads.end];
  return () => {
    clearInterval(timer);
    for (const end of ends) end();
  };
}

/** Keeps the strips up to date as long as the component that calls it is shown. */
export function useDayStrips(): void {
  useEffect(followDayStrips, []);
}
