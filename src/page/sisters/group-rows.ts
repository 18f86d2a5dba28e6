/** A duty group as rows of a chart and of a table, for one choice of conditions. Pure. */
import type { GroupBody } from '../../../shared/charts.js';
import type { IntervalRow } from '../charts/interval-rows.js';

type GroupSensor = GroupBody['sensors'][number];

/** The choice that compares like with like over all bins. */
export const MATCHED = '';

/** `null` figures: too little is shared, or nothing ran there. */
export interface GroupRow {
  readonly sensor: GroupSensor;
  readonly rate: { readonly mean: number; readonly lower: number; readonly upper: number | null } | null;
  /** to the middle of the group */
  readonly ratio: { readonly mean: number; readonly lower: number; readonly upper: number | null } | null;
  readonly pulses: number;
  readonly ms: number;
}

/** `bin`: one of the group's, or `MATCHED`. */
export function listRows(group: GroupBody, position: string, bin: string): GroupRow[] {
  return group.sensors
    .filter((sensor) => sensor.position === position)
    .map((sensor) => {
      const { matched } = sensor;
      const ratio = matched?.ratio ?? null;
      if (bin === MATCHED) {
        return {
          sensor,
          ratio,
          rate: matched?.rate_per_min ?? null,
          pulses: matched?.pulses ?? 0,
          ms: matched?.ms ?? 0,
        };
      }
      const cell = sensor.cells.find((each) => each.bin === bin);
      return {
        sensor,
        ratio,
        rate: cell?.rate_per_min ?? null,
        pulses: cell?.pulses ?? 0,
        ms: cell?.ms ?? 0,
      };
    });
}

/** The verdict in a word or two; empty: nothing is odd about it. */
export function sayVerdict({ matched }: GroupSensor): string {
  if (matched === null) return '';
  if (matched.odd) return 'odd one';
  return matched.torn ? 'group in two halves' : '';
}

/** Why a row has no rate, for the choice of conditions. */
export function sayMissing(bin: string): string {
  return bin === MATCHED ? 'too little is shared' : 'no exposure';
}

export function toIntervalRow({ sensor, rate }: GroupRow, bin: string): IntervalRow {
  return {
    ...{ key: sensor.sensor, label: sensor.motor, isHollow: false, missing: sayMissing(bin) },
    note: sensor.matched?.odd === true ? 'odd one' : '',
    ...{ mean: rate?.mean ?? null, lower: rate?.lower ?? 0, upper: rate === null ? null : rate.upper },
  };
}

/** The middle of the rates that are drawn; null: none is. */
export function middleOf(rows: readonly GroupRow[]): number | null {
  const rates = rows.flatMap(({ rate }) => rate?.mean ?? []).sort((a, b) => a - b);
  if (rates.length === 0) return null;
  const half = rates.length / 2;
  return Number.isInteger(half) ? Math.sqrt(rates[half - 1]! * rates[half]!) : rates[Math.floor(half)]!;
}

/** What to begin with: like with like, where enough is shared for it; otherwise the bin that was visited most. */
export function chooseBin(group: GroupBody): string {
  if (group.sensors.some(({ matched }) => matched !== null)) return MATCHED;
  return group.bins.find(({ unlike }) => unlike === null)?.bin ?? MATCHED;
}
