/**
 * What the core remembers of telling alarms, beside their records: which of them wait before they are told, and when the
 * last ones were told. Kept between runs, so that a restart tells nothing twice and loses nothing that waited.
 */
import type { AlarmRecord } from './alarm-rows.js';
import { CHECKPOINT_VERSION } from './checkpoint.js';
import type { CheckpointRow } from './rows.js';

/** An alarm that stands, and that nobody was told of yet. */
export interface Waiting {
  /** tick at which it is told, if it still stands and nothing else stands for it; ms */
  until: number;
  /** latest such tick, however long late readings go on coming */
  atMost: number;
  /** `like`: others may follow from the same cause; `late`: readings of after it may still show that it has returned */
  why: 'like' | 'late';
}

export interface Alarming {
  /** by id of the alarm */
  waiting: Map<string, Waiting>;
  /** ticks at which alarms were told, of the last ten minutes, ascending */
  told: number[];
  /** since when more are told than a person can answer; null: not so */
  floodSince: number | null;
  /** so many entries of the step's journal are settled: it is decided who is told of them */
  settledEntries: number;
  /** alarms that stand, are held, or have a delay under way: the others need no look */
  awake: Set<AlarmRecord>;
  /** so many of the alarms that the step put out are sorted into those that are awake and the others */
  sortedAlarms: number;
  /** its record is to be written at the end of the step */
  changed: boolean;
}

interface AlarmingRecord {
  waiting: [string, Waiting][];
  told: number[];
  floodSince: number | null;
}

export const ALARMING_KEY = 'alarming';

export function newAlarming(): Alarming {
  return {
    ...{ waiting: new Map(), told: [], floodSince: null, settledEntries: 0 },
    ...{ awake: new Set<AlarmRecord>(), sortedAlarms: 0, changed: false },
  };
}

function isAwake({ active, heldBy, onMs, offMs, returnFrom }: AlarmRecord): boolean {
  return active || heldBy !== null || onMs !== 0 || offMs !== 0 || returnFrom !== null;
}

/** Sorts alarms anew that changed; whoever changes one puts it out. */
export function sortAlarms(alarming: Alarming, changed: readonly AlarmRecord[]): void {
  for (let i = alarming.sortedAlarms; i < changed.length; i++) {
    const record = changed[i]!;
    if (isAwake(record)) alarming.awake.add(record);
    else alarming.awake.delete(record);
  }
  alarming.sortedAlarms = changed.length;
}

export function alarmingRow({ waiting, told, floodSince }: Alarming): CheckpointRow {
  const record: AlarmingRecord = { waiting: [...waiting], told, floodSince };
  return { key: ALARMING_KEY, version: CHECKPOINT_VERSION, json: JSON.stringify(record) };
}

/** undefined: nothing was written. */
export function parseAlarming(json: string | undefined): Alarming {
  if (json === undefined) return newAlarming();
  const { waiting, told, floodSince } = JSON.parse(json) as AlarmingRecord;
  return { ...newAlarming(), waiting: new Map(waiting), told, floodSince };
}
