/** The yardstick of a sensor as it is told to people: bin by bin, how far it has come and what it still lacks. */
import { writeHours } from './comparison.js';
import { nameSensor } from './fleet.js';
import { writeFactor } from './judgement.js';

export type BaselineState = 'learning' | 'learnt' | 'stale';

/** What a bin still lacks; zero: nothing of it. `unsteady`: why its learning period cannot serve, '' : it is steady. */
export interface LackingTold {
  readonly runningMs: number;
  readonly days: number;
  readonly pulses: number;
  readonly unsteady: string;
}

export interface BaselineBin {
  readonly bin: string;
  readonly state: BaselineState;
  /** of the learning period so far, ms */
  readonly from: number;
  readonly to: number;
  readonly pulses: number;
  readonly ms: number;
  readonly days: number;
  /** φ ≥ 1 */
  readonly phi: number;
  /** Pearson dispersion of the daily sums; null: not learnt yet */
  readonly dayPhi: number | null;
  /** null: learnt */
  readonly lacking: LackingTold | null;
}

export interface BaselineTold {
  readonly sensor: string;
  /** learnt: at least one bin serves; stale: one did, and none does now */
  readonly state: BaselineState;
  /** hours before this do not count, ms: comparability began anew with an action; null: it never did, all hours count */
  readonly since: number | null;
  readonly bins: readonly BaselineBin[];
  readonly sentence: string;
}

/** What DESIGN section 6 asks of a bin, in words, for a sensor that has not run yet. */
export const YARDSTICK_NEEDS =
  '20 running hours, spread over at least 7 days, and N/φ of 100 in a condition bin';

/** `12 h of running, 3 days and 40 pulses more`; with the reason where the period is unsteady; '' : nothing is lacking. */
export function writeLacking({ runningMs, days, pulses, unsteady }: LackingTold): string {
  const parts = [
    ...(runningMs > 0 ? [`${writeHours(runningMs)} of running`] : []),
    ...(days > 0 ? [`${days} ${days === 1 ? 'day' : 'days'}`] : []),
    ...(pulses > 0 ? [`${pulses} pulses`] : []),
  ];
  const last = parts.at(-1);
  const listed =
    parts.length > 1
      ? `${parts.slice(0, -1).join(', ')} and ${last ?? ''} more`
      : last === undefined
        ? ''
        : `${last} more`;
  const steady = unsteady === '' ? '' : `a steadier period: ${unsteady}`;
  return [listed, steady].filter((text) => text !== '').join('; ');
}

/** `bins` in any order; they are told with the most visited first. */
export function tellBaseline(
  sensor: string,
  since: number | null,
  bins: readonly BaselineBin[],
): BaselineTold {
  const ordered = [...bins].sort((a, b) => b.ms - a.ms || (a.bin < b.bin ? -1 : 1));
  const learnt = ordered.filter(({ state }) => state === 'learnt');
  const stale = ordered.filter(({ state }) => state === 'stale');
  const state = learnt.length > 0 ? 'learnt' : stale.length > 0 ? 'stale' : 'learning';
  return {
    sensor,
    state,
    since,
    bins: ordered,
    sentence: writeSentence(nameSensor(sensor), ordered, learnt, stale),
  };
}

function writeSentence(
  name: string,
  bins: readonly BaselineBin[],
  learnt: readonly BaselineBin[],
  stale: readonly BaselineBin[],
): string {
  const most = learnt[0];
  if (most !== undefined) {
    const perMin = writeFactor((60_000 * most.pulses) / most.ms);
    const others = bins.length - learnt.length;
    const rest = others === 0 ? '' : `; ${others} more ${others === 1 ? 'bin' : 'bins'} not`;
    return (
      `${name} has a yardstick in ${learnt.length} ${learnt.length === 1 ? 'bin' : 'bins'}${rest}: ` +
      `${perMin} pulses a minute in ${most.bin}, over ${writeHours(most.ms)} on ${most.days} days.`
    );
  }
  if (stale[0] !== undefined) {
    return `${name} has no yardstick: that of ${stale[0].bin} is too old or was not visited for too long, and a new one is being learnt.`;
  }
  const nearest = bins[0];
  if (nearest === undefined)
    return `${name} has no yardstick yet: nothing has run since learning began. It takes ${YARDSTICK_NEEDS}.`;
  const lacking = nearest.lacking === null ? '' : writeLacking(nearest.lacking);
  return `${name} has no yardstick yet: ${nearest.bin} needs ${lacking === '' ? 'the next look' : lacking}.`;
}
