/** Baselines as the core keeps them, read from its checkpoint: the very yardsticks that the alarms use, not others beside them. */
import { tellBaseline, type BaselineBin, type BaselineTold } from '../../advice/baseline.js';
import { learnBin, stateOf, type Baseline, type Yardstick } from '../../core/deviation/baseline.js';
import { sumDays, type CellSums, type DaySums } from '../../core/deviation/day-sums.js';
import { dispersionOver } from '../../stats/dispersion.js';
import type { ReadStore } from '../../store/reader.js';

/** What the core remembers of a sensor, as far as its baseline goes. */
interface SensorWatch {
  readonly baseline: Baseline;
  readonly days: readonly DaySums[];
  /** end of the newest hour taken in */
  readonly readTo: number;
}

/** The record as the core writes it: maps as lists of pairs. */
interface WatchRecord {
  readonly readTo: number;
  readonly since: number;
  readonly yardsticks: [string, Yardstick][];
  readonly unsteady: [string, string][];
  readonly days: [number, [string, number, number, CellSums['spread']][]][];
}

/** null: no hour of the sensor was ever closed. */
function readWatch(reader: ReadStore, sensor: string): SensorWatch | null {
  const json = reader.value('SELECT json FROM checkpoint WHERE key = ?', `watch:${sensor}`);
  if (typeof json !== 'string') return null;
  const { readTo, since, yardsticks, unsteady, days } = JSON.parse(json) as WatchRecord;
  return {
    readTo,
    baseline: { since, yardsticks: new Map(yardsticks), unsteady: new Map(unsteady) },
    days: days.map(([start, cells]) => ({
      start,
      cells: new Map(cells.map(([bin, pulses, ms, spread]) => [bin, { pulses, ms, spread }])),
    })),
  };
}

export function baselineOf(reader: ReadStore, sensor: string): BaselineTold {
  const watch = readWatch(reader, sensor);
  if (watch === null) return tellBaseline(sensor, null, []);
  const { baseline, days } = watch;
  const names = new Set([...baseline.yardsticks.keys(), ...days.flatMap(({ cells }) => [...cells.keys()])]);
  const bins = [...names].map((bin) =>
    stateOf(baseline, bin) === 'learnt' ? tellLearnt(baseline, bin) : tellLearning(watch, bin),
  );
  return tellBaseline(sensor, baseline.since > 0 ? baseline.since : null, bins);
}

function tellLearnt(baseline: Baseline, bin: string): BaselineBin {
  const { from, to, pulses, ms, days, dispersion, dayDispersion } = baseline.yardsticks.get(bin)!;
  return {
    bin,
    state: 'learnt',
    from,
    to,
    pulses,
    ms,
    days,
    phi: dispersion,
    dayPhi: dayDispersion,
    lacking: null,
  };
}

/** What it lacks is asked of the core's own rule, on a copy: asking must not change what was learnt. */
function tellLearning({ baseline, days, readTo }: SensorWatch, bin: string): BaselineBin {
  const copy: Baseline = {
    since: baseline.since,
    yardsticks: new Map(baseline.yardsticks),
    unsteady: new Map(baseline.unsteady),
  };
  const sums = sumDays(days, bin, 0);
  const first = days.find(({ cells }) => (cells.get(bin)?.ms ?? 0) > 0);
  const lacking = learnBin(copy, days, bin, readTo);
  return {
    bin,
    state: stateOf(baseline, bin),
    from: Math.max(baseline.since, first?.start ?? readTo),
    to: readTo,
    pulses: sums.pulses,
    ms: sums.ms,
    days: sums.days,
    phi: dispersionOver([sums.spread]).dispersion,
    dayPhi: null,
    lacking: lacking ?? { runningMs: 0, days: 0, pulses: 0, unsteady: '' },
  };
}
