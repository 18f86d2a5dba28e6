/** What a server process asks of the gateway, checked on the gateway's side: nothing that comes from there is believed. */

/** What a person does to an alarm, from a session with a login. */
export interface OperateWish {
  readonly do: 'operate';
  readonly alarm: string;
  readonly act: 'acknowledge' | 'confirm' | 'reset' | 'shelve' | 'unshelve';
  /** shelve: for so long, ms */
  readonly forMs: number;
  /** shelve: ends with the next return, if that comes first */
  readonly once: boolean;
  readonly who: string;
  readonly note: string;
}

/** Rollups of a sensor, oldest first, `from <= start < to`. */
export interface HistoryWish {
  readonly do: 'history';
  readonly sensor: string;
  readonly period: '1m' | '1h';
  readonly from: number;
  readonly to: number;
  readonly limit: number;
}

export interface HistoryRow {
  readonly start: number;
  /** running pulses and exposure */
  readonly pulses: number;
  readonly ms: number;
  readonly isUncertain: boolean;
}

export interface OperateAnswer {
  /** why it does not apply, a word of the gateway's; null: it was done */
  readonly refusal: string | null;
  readonly says: string;
}

export const HISTORY_ROWS_MAX = 1_000;
const ACTS: readonly string[] = ['acknowledge', 'confirm', 'reset', 'shelve', 'unshelve'];
const TEXT_MAX = 500;

/** Null: it is none. */
export function readWish(value: unknown): OperateWish | HistoryWish | null {
  if (typeof value !== 'object' || value === null) return null;
  const wish = value as Record<string, unknown>;
  if (wish['do'] === 'operate') return isOperate(wish) ? (value as OperateWish) : null;
  return wish['do'] === 'history' && isHistory(wish) ? (value as HistoryWish) : null;
}

function isText(value: unknown, least = 0): boolean {
  return typeof value === 'string' && value.length >= least && value.length <= TEXT_MAX;
}

function isOperate({ alarm, act, forMs, once, who, note }: Record<string, unknown>): boolean {
  const isAct = typeof act === 'string' && ACTS.includes(act);
  const isShelf = Number.isSafeInteger(forMs) && typeof once === 'boolean';
  return isAct && isShelf && isText(alarm, 1) && isText(who, 1) && isText(note);
}

function isHistory({ sensor, period, from, to, limit }: Record<string, unknown>): boolean {
  const isPeriod = period === '1m' || period === '1h';
  const isRange = Number.isSafeInteger(from) && Number.isSafeInteger(to);
  const isLimit = Number.isSafeInteger(limit) && Number(limit) >= 1 && Number(limit) <= HISTORY_ROWS_MAX;
  return isPeriod && isRange && isLimit && isText(sensor, 1);
}
