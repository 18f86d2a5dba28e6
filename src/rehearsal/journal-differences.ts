/**
 * The running configuration played over the past, beside what the journal says. They differ where live knew less than the store
 * knows now, where another configuration was in force, and where the store does not tell why; which it was is said of each.
 */
import type { HistoryReader } from '../store/read-history.js';
import type { Activation } from './activation.js';
import { revisionAt, type Recorded } from './journal.js';
import type { RehearsedAlarm } from './kinds.js';
import type { DifferenceReason, JournalDifference } from './outcome.js';

/** Rates look back over their window and, for the dispersion, over 48 running hours: three days, say. */
const RATE_REACH_MS = 3 * 86_400_000;
/** A day is judged up to two hours after its end; what was detected later than this was known late. */
const PUNCTUAL_MS = 3 * 3_600_000;

export interface DifferenceSources {
  readonly history: HistoryReader;
  readonly recorded: Recorded;
  readonly running: string;
  readonly warmUpFrom: number;
  readonly from: number;
  readonly to: number;
}

export class DifferenceFinder {
  readonly #sources: DifferenceSources;
  /** of each sensor that was asked for */
  readonly #revised = new Map<string, readonly number[]>();

  constructor(sources: DifferenceSources) {
    this.#sources = sources;
  }

  /** In order of time. Both lists in order; what began before the stretch is compared as well, where it stood in it. */
  find(alarm: RehearsedAlarm, rehearsed: readonly Activation[]): JournalDifference[] {
    const { from, to, recorded } = this.#sources;
    const isSeen = (one: Activation): boolean => one.from < to && (one.to ?? Infinity) > from;
    const journal = recorded.log.of(alarm.id).filter(isSeen);
    const own = rehearsed.filter(isSeen);
    const starts = [...new Set([...journal, ...own].map((one) => one.from))].sort((a, b) => a - b);
    return starts.flatMap((start) => {
      const told = journal.find((one) => one.from === start);
      const played = own.find((one) => one.from === start);
      const [journalTo, rehearsedTo] = [told, played].map((one) => this.#endOf(one));
      if (told !== undefined && played !== undefined && journalTo === rehearsedTo) return [];
      const what =
        played === undefined ? 'only-in-journal' : told === undefined ? 'only-rehearsed' : 'another-return';
      const times = { from: start, journalTo: journalTo!, rehearsedTo: rehearsedTo! };
      return [{ what, ...times, ...this.#explain(alarm, times, told) }];
    });
  }

  /** null: it stands at the end of the stretch, or is not there. */
  #endOf(one: Activation | undefined): number | null {
    return one !== undefined && one.to !== null && one.to <= this.#sources.to ? one.to : null;
  }

  #explain(
    alarm: RehearsedAlarm,
    times: { from: number; journalTo: number | null; rehearsedTo: number | null },
    told: Activation | undefined,
  ): { reason: DifferenceReason; says: string } {
    const { recorded, running, warmUpFrom } = this.#sources;
    const revision = told?.configuration ?? revisionAt(recorded.inForce, times.from);
    if (revision !== '' && revision !== running) {
      return {
        reason: 'another-configuration',
        says: `configuration ${revision} was in force, not ${running}`,
      };
    }
    const isRate = alarm.kind === 'rate-high' || alarm.kind === 'rate-high-high';
    const reachFrom = isRate ? times.from - RATE_REACH_MS : warmUpFrom;
    const reachTo = Math.max(times.from, times.journalTo ?? 0, times.rehearsedTo ?? 0);
    const late = this.#revisedOf(alarm.sensor ?? '').filter((at) => at >= reachFrom && at < reachTo).length;
    if (late > 0) {
      const minutes = late === 1 ? '1 minute' : `${late} minutes`;
      const says = `live knew later: ${minutes} that it rests on came or changed after they had closed`;
      return { reason: 'live-knew-later', says };
    }
    if (told !== undefined && told.detectedAt - told.from > PUNCTUAL_MS)
      return {
        reason: 'live-knew-later',
        says: 'live knew later: the journal detected it hours after it began',
      };
    return {
      reason: 'unexplained',
      says: 'the store does not tell why: the gateway may have been down or restarted, and so have looked at other minutes',
    };
  }

  #revisedOf(sensor: string): readonly number[] {
    let found = this.#revised.get(sensor);
    if (found === undefined) {
      const { history, warmUpFrom, to } = this.#sources;
      found = history.revisedMinutes(sensor, warmUpFrom, to);
      this.#revised.set(sensor, found);
    }
    return found;
  }
}
