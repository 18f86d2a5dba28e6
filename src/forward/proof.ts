/** Compares what the store holds of days with what a receiver holds of them: the proof that nothing is missing or doubled. */
import type { Manifest } from './sink.js';

export interface Difference {
  readonly sensor: string;
  readonly period: Manifest['period'];
  /** midnight UTC, ms */
  readonly day: number;
  readonly says: string;
}

/** Both of one period and day. Whatever the receiver has of sensors that the store does not know is told too. */
export function compareDays(stored: readonly Manifest[], held: readonly Manifest[]): Difference[] {
  const theirs = new Map(held.map((one) => [one.sensor, one]));
  const ours = new Map(stored.map((one) => [one.sensor, one]));
  const sensors = [...new Set([...ours.keys(), ...theirs.keys()])].sort();
  return sensors.flatMap((sensor) => {
    const [mine, other] = [ours.get(sensor), theirs.get(sensor)];
    const says = describeDifference(mine, other);
    const { period, day } = (mine ?? other)!;
    return says === '' ? [] : [{ sensor, period, day, says }];
  });
}

const PARTS = ['rows', 'pulses', 'ms', 'highestRevision'] as const;
const WORDS = { rows: 'rows', pulses: 'pulses', ms: 'ms', highestRevision: 'highest revision' };

function describeDifference(mine: Manifest | undefined, other: Manifest | undefined): string {
  if (mine === undefined) return `the receiver holds ${other!.rows} rows, the store none`;
  if (other === undefined) return `the receiver holds nothing of ${mine.rows} rows`;
  return PARTS.filter((part) => mine[part] !== other[part])
    .map((part) => `${WORDS[part]} ${other[part]} instead of ${mine[part]}`)
    .join(', ');
}
