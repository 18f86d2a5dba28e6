/**
 * What is remembered of a sensor for its deviation alarms, and how it is kept between runs: written at the end of a step
 * that changed it, which is about once an hour.
 */
import { CHECKPOINT_VERSION } from '../checkpoint.js';
import type { BinSum, CheckpointRow } from '../rows.js';
import type { CoreState, SensorState } from '../state.js';
import type { LaidAside } from './aside.js';
import { newBaseline, type Baseline, type Yardstick } from './baseline.js';
import { newPast, type BackgroundHour, type BackgroundPast } from './background.js';
import type { CellSums, DaySums } from './day-sums.js';
import { newRise, type Rise } from './rise.js';

/** A closed hour with its part without own modulation. */
export interface DatedBackground extends BackgroundHour {
  hour: number;
}

/** A closed hour that is not taken in yet. */
export interface UnreadHour extends DatedBackground {
  /** what ran in it by condition bin when it closed; absent in records of before: as its spreads say */
  cells?: BinSum[];
}

/** An hour that closed without what a backlog brings of it; all that came so far. */
export interface LateHour extends DatedBackground {
  cells: BinSum[];
  /** gateway's time of the last that came */
  at: number;
}

export interface SensorWatch {
  baseline: Baseline;
  /** in order, four weeks */
  days: DaySums[];
  /** parts of before that work ended, in order of time */
  aside: LaidAside[];
  rise: Rise;
  past: BackgroundPast;
  /** newest hours with background exposure, not part of the past yet */
  background: DatedBackground[];
  /** end of the newest hour taken in */
  readTo: number;
  unread: UnreadHour[];
  /** in order of time */
  late: LateHour[];
  /** end of the newest hour with a running pulse; 0: none yet */
  countedAt: number;
  /** newest remedy; 0: none */
  remedyAt: number;
  /** looks on end at the sisters that found it odd, plain, silent */
  oddLooks: number;
  plainLooks: number;
  silentLooks: number;
  /** start of learning was told as taking long */
  toldNoYardstick: boolean;
}

export function newWatch(since: number): SensorWatch {
  return {
    baseline: newBaseline(since),
    days: [],
    aside: [],
    rise: newRise(),
    past: newPast(),
    background: [],
    readTo: 0,
    unread: [],
    late: [],
    countedAt: 0,
    remedyAt: 0,
    oddLooks: 0,
    plainLooks: 0,
    silentLooks: 0,
    toldNoYardstick: false,
  };
}

type Plain = Omit<SensorWatch, 'baseline' | 'days' | 'aside' | 'late'> & { late?: LateHour[] };

/** As it is written: maps as lists of pairs. */
interface PartRecord {
  since: number;
  yardsticks: [string, Yardstick][];
  unsteady: [string, string][];
  days: [number, [string, number, number, CellSums['spread']][]][];
}

interface WatchRecord extends Plain, PartRecord {
  /** absent: none */
  aside?: ({ action: number; laidAt: number } & PartRecord)[];
}

/** What is remembered has changed: it is written at the end of the step. */
export function touchWatch(state: CoreState, sensor: SensorState): void {
  sensor.watchChanged = true;
  state.touched.add(sensor);
}

export function watchRow({ key, watch }: SensorState): CheckpointRow {
  return { key: `watch:${key}`, version: CHECKPOINT_VERSION, json: JSON.stringify(watchRecord(watch)) };
}

/** Hours that wait to be read are part of the sensor's own record, which is written when they close. */
function watchRecord(watch: SensorWatch): WatchRecord {
  const { baseline, days, aside, ...rest } = watch;
  const record: WatchRecord = { ...rest, unread: [], ...partRecord({ baseline, days }) };
  if (aside.length > 0)
    record.aside = aside.map((part) => ({ action: part.action, laidAt: part.laidAt, ...partRecord(part) }));
  return record;
}

type Part = Pick<SensorWatch, 'baseline' | 'days'>;

function partRecord({ baseline, days }: Part): PartRecord {
  return {
    since: baseline.since,
    yardsticks: [...baseline.yardsticks],
    unsteady: [...baseline.unsteady],
    days: days.map((day) => [
      day.start,
      [...day.cells].map(([bin, cell]) => [bin, cell.pulses, cell.ms, cell.spread]),
    ]),
  };
}

function readPart({ since, yardsticks, unsteady, days }: PartRecord): Part {
  return {
    baseline: { since, yardsticks: new Map(yardsticks), unsteady: new Map(unsteady) },
    days: days.map(([start, cells]) => ({
      start,
      cells: new Map(cells.map(([bin, pulses, ms, spread]) => [bin, { pulses, ms, spread }])),
    })),
  };
}

export function parseWatch(json: string): SensorWatch {
  const { since, yardsticks, unsteady, days, aside, ...plain } = JSON.parse(json) as WatchRecord;
  return {
    ...plain,
    // records from before there were any
    late: plain.late ?? [],
    ...readPart({ since, yardsticks, unsteady, days }),
    aside: (aside ?? []).map((part) => ({ action: part.action, laidAt: part.laidAt, ...readPart(part) })),
  };
}
