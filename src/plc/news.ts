/**
 * What the servers for PLC and HMI are told, as plain values that survive the way to another process. Times are event
 * times in ms; null: not known. Of each subject only the newest counts, so news of a slow reader melt together and the
 * queue to it is never longer than the plant.
 */
import type { AlarmPriority, AlarmStateName } from '../../shared/alarm-terms.js';

export type Quality = 'good' | 'uncertain' | 'bad';
export type RunStateName = 'stopped' | 'starting' | 'running' | 'stopping' | 'fault';

/** A sensor's trailing rate. */
export interface RateNews {
  readonly sensor: string;
  /** end of the window that it was told with */
  readonly at: number;
  /** end of the newest window with running exposure: a standing motor is heard, and its rate gets older; null: none yet */
  readonly runningAt: number | null;
  /** pulses per minute of running exposure; null: no running exposure */
  readonly ratePerMin: number | null;
  readonly lowerPerMin: number | null;
  readonly upperPerMin: number | null;
  readonly quality: Quality;
  /** the window holds time of a function check */
  readonly isCheck: boolean;
}

/** The last message of a drive. `since` null: it did not say. */
export interface DriveNews {
  readonly motor: string;
  readonly state: RunStateName;
  readonly modulating: boolean;
  readonly at: number;
  readonly since: number | null;
  /** its reporter went absent then, after this message; null: it has not */
  readonly absentFrom: number | null;
}

/** One alarm as it stands. */
export interface AlarmNews {
  readonly id: string;
  readonly motor: string;
  readonly sensor: string | null;
  readonly kind: string;
  readonly priority: AlarmPriority;
  readonly state: AlarmStateName;
  readonly active: boolean;
  readonly acknowledged: boolean;
  readonly confirmed: boolean;
  readonly latched: boolean;
  readonly shelvedUntil: number | null;
  readonly shelvedOnce: boolean;
  readonly isSuppressed: boolean;
  readonly isOutOfService: boolean;
  /** nothing can be said of its condition just now */
  readonly isHeld: boolean;
  readonly since: number | null;
  /** the evidence in one sentence; '': none */
  readonly says: string;
  readonly note: string;
  /** who acted on it last; '': nobody */
  readonly by: string;
}

/** When a sensor was heard last, from the store at the start. */
export interface HeardNews {
  readonly sensor: string;
  readonly at: number;
}

export interface News {
  readonly rates: readonly RateNews[];
  readonly drives: readonly DriveNews[];
  readonly alarms: readonly AlarmNews[];
  readonly heard: readonly HeardNews[];
}

/** The later of two news of one rate, which keeps when it last ran. */
export function mergeRates(before: RateNews | undefined, after: RateNews): RateNews {
  if (before === undefined) return after;
  const [older, newer] = after.at >= before.at ? [before, after] : [after, before];
  const ran = Math.max(older.runningAt ?? -Infinity, newer.runningAt ?? -Infinity);
  return { ...newer, runningAt: Number.isFinite(ran) ? ran : null };
}

/** A message that came late says nothing about now. An equal time replaces. */
export function mergeDrives(before: DriveNews | undefined, after: DriveNews): DriveNews {
  return before !== undefined && before.at > after.at ? before : after;
}

/** A reporter that went absent before the last message has been heard since. The first absence counts. */
export function markAbsent(drive: DriveNews, at: number): DriveNews {
  if (at < drive.at || (drive.absentFrom !== null && drive.absentFrom <= at)) return drive;
  return { ...drive, absentFrom: at };
}
