/**
 * What the live stream said of alarms, on top of what was loaded. After a break all is loaded again, and until the answer is there what
 * is known goes on being shown: an older answer, or a load that fails, takes nothing back. Pure.
 */
import type { AlarmBody } from '../data/bodies.js';

export interface AlarmChanges {
  /** of loads that were asked for */
  readonly turn: number;
  /** by id of the alarm, with the turn in which it came */
  readonly heard: ReadonlyMap<string, { readonly alarm: AlarmBody; readonly turn: number }>;
}

export const NO_CHANGES: AlarmChanges = { turn: 0, heard: new Map() };

export function hearAlarm({ turn, heard }: AlarmChanges, alarm: AlarmBody): AlarmChanges {
  return { turn, heard: new Map(heard).set(alarm.id, { alarm, turn }) };
}

/** A load has been asked for. */
export function beginTurn({ turn, heard }: AlarmChanges): AlarmChanges {
  return { turn: turn + 1, heard };
}

/** Its answer is there: it knows what came before it was asked for, and what came since may be newer. */
export function endTurn({ turn, heard }: AlarmChanges): AlarmChanges {
  return { turn, heard: new Map([...heard].filter(([, each]) => each.turn === turn)) };
}
