/** Reads what strips are made of: the 10 min rollups of a day, summed by stretch in the store. */
import { makeDayStrip, STRIP_STEP_MS, STRIP_STEPS, type DayStrip } from '../core/day-strip.js';
import { Class, LEDGER_CLASSES } from '../core/words.js';
import type { ReadStore } from './reader.js';

const SUMS = [`p${Class.running}`, ...LEDGER_CLASSES.map((each) => `m${each}`)].map(
  (column) => `sum(${column})`,
);

/** One strip for every sensor that was ever heard, in alphabetical order. `from`: a multiple of the step. */
export function readStrips(reader: ReadStore, from: number): DayStrip[] {
  const to = from + STRIP_STEPS * STRIP_STEP_MS;
  // a bound number may arrive as a real one, and would make the division one of reals
  const first = from / STRIP_STEP_MS;
  return reader.sensorIds(null).map(({ id, key }) => {
    const rows = reader.all(
      `SELECT start / ${STRIP_STEP_MS}, ${SUMS.join(', ')} FROM rollup_10m
       WHERE sensor = ? AND start >= ? AND start < ? GROUP BY 1`,
      id,
      from,
      to,
    ) as number[][];
    const sums = rows.map(([step = 0, runningPulses = 0, ...ms]) => ({
      step: step - first,
      runningPulses,
      ms: [0, ...ms],
    }));
    return makeDayStrip(key, sums);
  });
}
