/** The engine's own record in the store: its last tick, and which drives were being reported. */
import type { CheckpointRow } from '../core/rows.js';
import type { PresenceRecord } from './presence.js';

export interface EngineRecord {
  /** ms; 0: never */
  readonly tick: number;
  readonly presence: PresenceRecord;
}

const KEY = 'engine';
const VERSION = 1;

export function engineRow(record: EngineRecord): CheckpointRow {
  return { key: KEY, version: VERSION, json: JSON.stringify(record) };
}

/** null: a new store, or one of another version, whose record is of no use to us. */
export function readEngineRecord(rows: readonly CheckpointRow[]): EngineRecord | null {
  const row = rows.find(({ key, version }) => key === KEY && version === VERSION);
  return row === undefined ? null : (JSON.parse(row.json) as EngineRecord);
}
