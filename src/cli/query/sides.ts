/** Sides of comparisons from the store: what a sensor counted in running over a period, ready to be compared. */
import { nameSensor } from '../../advice/fleet.js';
import { phiOf, type Side } from '../../advice/side.js';
import { readDays, readSide } from '../../store/read-sides.js';
import type { ReadStore } from '../../store/reader.js';

const HOUR_MS = 3_600_000;

/** Whole hours that lie inside, ms. */
export interface Span {
  readonly from: number;
  readonly to: number;
}

/** The whole hours inside a period: hours are what is kept for ever, and an hour cut in two would belong to both sides. */
export function shrinkToHours({ from, to }: Span): Span {
  return { from: Math.ceil(from / HOUR_MS) * HOUR_MS, to: Math.floor(to / HOUR_MS) * HOUR_MS };
}

/** `withDays`: days too, for limits from days. They cost as much again, so the sisters that are only placed go without. */
export function sideOf(reader: ReadStore, sensor: string, span: Span, withDays: boolean): Side {
  const query = { sensor, ...span };
  const found = readSide(reader, query);
  return {
    name: nameSensor(sensor),
    from: found.from,
    to: found.to,
    bins: found.bins.map(({ bin, pulses, ms, spread }) => ({ bin, pulses, ms, ...phiOf(spread) })),
    days: withDays ? readDays(reader, query) : [],
  };
}

/** Gives a side its days, with a name of its own. */
export function addDays(reader: ReadStore, side: Side, sensor: string, span: Span): Side {
  return { ...side, days: readDays(reader, { sensor, ...span }) };
}
