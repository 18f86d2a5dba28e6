/**
 * How the alarm system does by the figures of its trade: how many alarms an operator gets, how many at once, which of them
 * are a nuisance; each beside what is published. Counted is what was announced to an operator, at the time at which it was.
 * Null wherever nothing is known: a time from which there is no journal is not a quiet one.
 */
import { BENCHMARKS, judge, type Benchmark, type BenchmarkKey, type Verdict } from './alarm-benchmarks.js';
import { FLOOD_BEGINS_ABOVE, findFloods } from './alarm-flood.js';
import { followAlarms, isAnnunciation, type AlarmHistory, type JournalLine } from './alarm-histories.js';
import {
  firstFrom,
  loadByDay,
  loadByPeriod,
  type CalendarDay,
  type DayLoad,
  type Span,
} from './alarm-load.js';
import {
  findChattering,
  findFleeting,
  findFrequent,
  findStale,
  type AlarmCount,
  type StaleAlarm,
} from './alarm-nuisance.js';
import { findLate, type LateAlarm } from './alarm-response.js';

const TEN_MIN_MS = 600_000;
const HOUR_MS = 3_600_000;
const HOUR_LIMIT = 30;
/** Below this many alarms the ten most frequent are most of them, and their share says nothing: our choice. */
const SHARE_LEAST = 200;

export type Priority = 'low' | 'medium' | 'high';

/** What the alarm's record says now. */
export interface AlarmFacts {
  readonly id: string;
  readonly priority: Priority;
  /** time to respond, ms; null: none is configured */
  readonly respondMs: number | null;
  /** null: not shelved */
  readonly shelf: { readonly until: number; readonly by: string; readonly why: string } | null;
  /** null: in service */
  readonly outOfService: { readonly by: string; readonly why: string } | null;
}

export interface PerformanceQuestion extends Span {
  /** operator positions that share the alarms, at least 1 */
  readonly positions: number;
  /** days of the site's calendar, in order, that cover the span */
  readonly days: readonly CalendarDay[];
}

export interface PerformanceRecord {
  /** the whole journal up to the end of the span, in order of time: what stood before the span counts too */
  readonly lines: readonly JournalLine[];
  /** the time for which the journal tells what was announced; null: for none */
  readonly known: Span | null;
  readonly alarms: readonly AlarmFacts[];
}

export interface Figure extends Benchmark {
  readonly key: BenchmarkKey;
  readonly value: number | null;
  readonly verdict: Verdict;
}

export interface Performance extends Span {
  readonly positions: number;
  /** the part of the time that is known; null: none of it, and nothing is counted */
  readonly covered: Span | null;
  /** annunciated alarms; null: nothing is known */
  readonly alarms: number | null;
  readonly figures: readonly Figure[];
  readonly days: readonly DayLoad[];
  readonly floods: readonly Span[];
  readonly priorities: Readonly<Record<Priority | 'unknown', number>> | null;
  readonly frequent: readonly (AlarmCount & { readonly share: number })[];
  readonly chattering: readonly AlarmCount[];
  readonly fleeting: readonly AlarmCount[];
  /** where the covered time ends */
  readonly stale: readonly StaleAlarm[];
  readonly late: readonly LateAlarm[];
  /** now, whatever the time asked for */
  readonly shelved: readonly AlarmFacts[];
  readonly outOfService: readonly AlarmFacts[];
}

export function reportPerformance(question: PerformanceQuestion, record: PerformanceRecord): Performance {
  const { from, to, positions } = question;
  const { known, alarms: facts } = record;
  const hidden = {
    shelved: facts.filter(({ shelf }) => shelf !== null),
    outOfService: facts.filter(({ outOfService }) => outOfService !== null),
  };
  const covered = known === null ? null : { from: Math.max(from, known.from), to: Math.min(to, known.to) };
  if (covered === null || covered.from >= covered.to) return { ...tellNothing(question), ...hidden };
  const counted = record.lines.filter(({ at }) => at < covered.to);
  const histories = followAlarms(counted);
  const times = counted.filter(isAnnunciation).map(({ at }) => at);
  const own = times.slice(firstFrom(times, covered.from));
  const days = loadByDay(own, covered, question.days);
  const floods = findFloods(times, covered, positions);
  const nuisance = {
    frequent: findFrequent(histories, covered).map((each) => ({
      ...each,
      share: each.count / own.length,
    })),
    chattering: findChattering(histories, covered),
    fleeting: findFleeting(histories, covered),
  };
  const stale = findStale(histories, covered);
  const response = findLate(histories, covered, facts);
  const priorities = countPriorities(histories, covered, facts);
  const values: Record<BenchmarkKey, number | null> = {
    ...loadValues(own, covered, days, positions),
    ...priorityShares(priorities),
    flood: spanOf(floods) / (covered.to - covered.from),
    tenMost: own.length < SHARE_LEAST ? null : nuisance.frequent.reduce((sum, { share }) => sum + share, 0),
    chattering: nuisance.chattering.length,
    fleeting: nuisance.fleeting.length,
    stale: stale.most,
    late: response.judged === 0 ? null : response.late.length / response.judged,
  };
  return {
    ...{ from, to, positions, covered, alarms: own.length, days, floods, priorities },
    figures: toFigures(values),
    ...nuisance,
    stale: stale.atEnd,
    late: response.late,
    ...hidden,
  };
}

function spanOf(spans: readonly Span[]): number {
  return spans.reduce((sum, { from, to }) => sum + to - from, 0);
}

type LoadKey =
  'perTenMinutes' | 'tenMinutesMost' | 'tenMinutesAbove' | 'perHour' | 'hoursAbove' | 'perDay' | 'dayMost';

function loadValues(
  times: readonly number[],
  covered: Span,
  days: readonly DayLoad[],
  positions: number,
): Record<LoadKey, number | null> {
  const tens = loadByPeriod(times, covered, TEN_MIN_MS, positions, FLOOD_BEGINS_ABOVE);
  const hours = loadByPeriod(times, covered, HOUR_MS, positions, HOUR_LIMIT);
  const whole = days.filter(({ isWhole }) => isWhole).map(({ alarms }) => alarms / positions);
  return {
    perTenMinutes: tens.mean,
    tenMinutesMost: tens.most,
    tenMinutesAbove: tens.shareAbove,
    perHour: hours.mean,
    hoursAbove: hours.shareAbove,
    perDay: whole.length === 0 ? null : whole.reduce((sum, each) => sum + each, 0) / whole.length,
    dayMost: whole.length === 0 ? null : Math.max(...whole),
  };
}

/** `unknown`: of alarms that have no record any more. */
function countPriorities(
  histories: readonly AlarmHistory[],
  { from, to }: Span,
  facts: readonly AlarmFacts[],
): Record<Priority | 'unknown', number> {
  const priorityOf = new Map(facts.map(({ id, priority }) => [id, priority]));
  const counts = { low: 0, medium: 0, high: 0, unknown: 0 };
  for (const { alarm, annunciations } of histories)
    counts[priorityOf.get(alarm) ?? 'unknown'] +=
      firstFrom(annunciations, to) - firstFrom(annunciations, from);
  return counts;
}

/** Of the alarms whose priority is known; null: there are none. */
function priorityShares({ low, medium, high }: Record<Priority, number>): Record<Priority, number | null> {
  const sum = low + medium + high;
  const share = (count: number): number | null => (sum === 0 ? null : count / sum);
  return { low: share(low), medium: share(medium), high: share(high) };
}

function toFigures(values: Readonly<Record<BenchmarkKey, number | null>>): Figure[] {
  return (Object.keys(BENCHMARKS) as BenchmarkKey[]).map((key) => ({
    ...BENCHMARKS[key],
    key,
    value: values[key],
    verdict: judge(values[key], BENCHMARKS[key].published),
  }));
}

function tellNothing({
  from,
  to,
  positions,
}: PerformanceQuestion): Omit<Performance, 'shelved' | 'outOfService'> {
  const keys = Object.keys(BENCHMARKS) as BenchmarkKey[];
  const values = Object.fromEntries(keys.map((key) => [key, null])) as Record<BenchmarkKey, null>;
  return {
    ...{ from, to, positions, covered: null, alarms: null, figures: toFigures(values), priorities: null },
    ...{ days: [], floods: [], frequent: [], chattering: [], fleeting: [], stale: [], late: [] },
  };
}
