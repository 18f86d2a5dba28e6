/**
 * The newest minutes of a sensor that ran, from the rollups: what its alarms look at, where the readings given at start do not
 * reach back as far. Found by the hours that ran, of which there is a short list however long the motor stood in between.
 */
import { ALL_BIN } from '../core/bin-name.js';
import type { Minute } from '../core/periods.js';
import { PERIOD_MS } from '../core/words.js';
import type { Answers } from './answers.js';

const HOUR_MS = PERIOD_MS['1h'];

type MinuteCells = [start: number, pulses: number, ms: number];

/** Closed minutes with running exposure that start before `before`, the newest `most` of them, in order. */
export function findNewestMinutes(answers: Answers, sensor: string, before: number, most: number): Minute[] {
  const { statements, names } = answers;
  const id = names.find(sensor);
  const closed = statements.value('SELECT max(start) FROM rollup_1h WHERE sensor = ?', id) as number | null;
  // what the open hour closed so far is in no hour yet
  const openFrom = closed === null ? 0 : closed + HOUR_MS;
  const found = minutesIn(answers, id, openFrom, before);
  if (found.length < most) {
    const hours = statements.all(
      'SELECT DISTINCT start FROM rollup_bin_1h WHERE sensor = ? AND start < ? AND ms > 0 ORDER BY start DESC LIMIT ?',
      // the first of them may have run after `before` alone
      ...[id, Math.min(before, openFrom), most + 1],
    ) as [number][];
    for (const [hour] of hours) {
      if (found.length >= most) break;
      found.unshift(...minutesIn(answers, id, hour, Math.min(before, hour + HOUR_MS)));
    }
  }
  return found.slice(-most);
}

function minutesIn({ statements, names }: Answers, id: number, from: number, to: number): Minute[] {
  const rows = statements.all(
    'SELECT start, p6, m6 FROM rollup_1m WHERE sensor = ? AND start >= ? AND start < ? AND m6 > 0 ORDER BY start',
    ...[id, from, to],
  ) as MinuteCells[];
  if (rows.length === 0) return [];
  const minutes = new Map<number, Minute>(
    rows.map(([start, pulses, ms]) => [start, { start, pulses, ms, bins: [] }]),
  );
  const bins = statements.all(
    'SELECT start, bin, pulses, ms FROM rollup_bin_1m WHERE sensor = ? AND start >= ? AND start < ? ORDER BY start, bin',
    ...[id, from, to],
  ) as [number, number, number, number][];
  for (const [start, bin, pulses, ms] of bins) {
    const text = names.text(bin);
    if (text !== ALL_BIN && (pulses !== 0 || ms !== 0))
      minutes.get(start)?.bins.push({ bin: text, pulses, ms });
  }
  return [...minutes.values()];
}
