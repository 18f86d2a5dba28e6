/** What hypotheses ask beside running sums: other classes, line supply, background beside a neighbour's drive, notes on the device. */
import { Class, Reason } from '../core/words.js';
import type { ReadStore } from './reader.js';
import type { SideQuery } from './read-sides.js';

/** Pulses and time of one class; `q`: Σ x²/e per second over `blocks` hours (or minutes), for its dispersion. */
export interface ClassSums {
  readonly pulses: number;
  readonly ms: number;
  readonly q: number;
  readonly blocks: number;
}

export interface ClassEvidence {
  readonly background: ClassSums;
  readonly commonPulses: number;
  readonly rejectedPulses: number;
}

/** Sums over the hours that start in the period. */
export function readClasses(reader: ReadStore, { sensor, from, to }: SideQuery): ClassEvidence {
  const [row] = reader.all(
    `SELECT sum(p${Class.background}), sum(m${Class.background}),
       sum(CASE WHEN m${Class.background} > 0 THEN 1000.0 * p${Class.background} * p${Class.background} / m${Class.background} END),
       sum(m${Class.background} > 0), sum(p${Class.common}), sum(p${Class.rejected})
     FROM rollup_1h WHERE sensor = (SELECT id FROM name WHERE text = ?) AND start >= ? AND start < ?`,
    sensor,
    from,
    to,
  ) as (number | null)[][];
  const [pulses, ms, q, blocks, common, rejected] = row ?? [];
  return {
    background: { pulses: pulses ?? 0, ms: ms ?? 0, q: q ?? 0, blocks: blocks ?? 0 },
    commonPulses: common ?? 0,
    rejectedPulses: rejected ?? 0,
  };
}

/** What was counted while the motor ran without modulation (line supply), as far back as increments are kept. */
export function readBypass(reader: ReadStore, { sensor, from, to }: SideQuery): ClassSums {
  const [row] = reader.all(
    `SELECT sum(pulses), sum(max(duration, 0)),
       sum(CASE WHEN duration > 0 THEN 1000.0 * pulses * pulses / duration END), sum(duration > 0)
     FROM increment WHERE sensor = (SELECT id FROM name WHERE text = ?) AND to_ms > ? AND to_ms <= ?
       AND class = ${Class.unattributed} AND reason = ${Reason.runningWithoutModulation}`,
    sensor,
    from,
    to,
  ) as (number | null)[][];
  const [pulses, ms, q, blocks] = row ?? [];
  return { pulses: pulses ?? 0, ms: ms ?? 0, q: q ?? 0, blocks: blocks ?? 0 };
}

/** A minute that held background, in order of time. */
export interface BackgroundMinute {
  readonly start: number;
  readonly pulses: number;
  readonly ms: number;
}

export function readBackground(reader: ReadStore, { sensor, from, to }: SideQuery): BackgroundMinute[] {
  const rows = reader.all(
    `SELECT start, p${Class.background}, m${Class.background} FROM rollup_1m
     WHERE sensor = (SELECT id FROM name WHERE text = ?) AND start >= ? AND start < ? AND m${Class.background} > 0
     ORDER BY start`,
    sensor,
    from,
    to,
  ) as [number, number, number][];
  return rows.map(([start, pulses, ms]) => ({ start, pulses, ms }));
}

/** From when on a drive was modulating or not, in order of time; the first may lie before `from`. */
export function readModulation(
  reader: ReadStore,
  motor: string,
  from: number,
  to: number,
): { at: number; isModulating: boolean }[] {
  const id = reader.value('SELECT id FROM name WHERE text = ?', motor);
  const first = reader.value('SELECT max(at) FROM drive_message WHERE motor = ? AND at < ?', id, from);
  const rows = reader.all(
    'SELECT coalesce(since, at), modulating FROM drive_message WHERE motor = ? AND at >= ? AND at < ? ORDER BY at',
    id,
    first ?? from,
    to,
  ) as [number, number][];
  return rows.map(([at, modulating]) => ({ at, isModulating: modulating === 1 }));
}

/** Kinds of diagnostics that speak of the device or its wiring, in words. */
const FAULT_WORDS: Readonly<Record<string, string>> = {
  conflict: 'two readings claim the same place',
  misfit: 'readings fit nowhere in their sequence',
  'clock-off': 'its clock is wrong',
  'clock-step': 'its clock stepped back',
};

/** What speaks against the device or its wiring since `from`, in words; empty: nothing was noted. */
export function readFaults(reader: ReadStore, sensor: string, from: number): string[] {
  const noted = reader.all(
    `SELECT kind, count FROM diagnostic WHERE subject = ? AND last_at >= ? AND kind IN (${Object.keys(
      FAULT_WORDS,
    )
      .map((kind) => `'${kind}'`)
      .join(', ')}) ORDER BY kind`,
    sensor,
    from,
  ) as [string, number][];
  const unknown = reader.value(
    `SELECT count(*) FROM segment WHERE sensor = (SELECT id FROM name WHERE text = ?) AND start_to >= ?
     AND opened_by = 'fall'`,
    sensor,
    from,
  );
  const restarts =
    typeof unknown === 'number' && unknown > 0
      ? [`its counter fell ${unknown} times without a known restart`]
      : [];
  return [...noted.map(([kind, count]) => `${FAULT_WORDS[kind] ?? kind} (${count} times)`), ...restarts];
}
