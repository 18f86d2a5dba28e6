/**
 * The figures of the alarm system once more, the slow way: every ten seconds are looked at one by one, every announcement is
 * held against every other of its alarm, and a day is what the calendar prints.
 */
import type { JournalLine } from '../../src/advice/alarm-histories.js';
import type { AlarmFacts } from '../../src/advice/alarm-performance.js';
import { STEP_MS, ZONE } from './alarm-seasons.js';

export interface Brute {
  total: number;
  tenMost: number;
  tenAbove: number;
  hourAbove: number;
  days: Map<string, number>;
  floodSteps: number;
  staleMost: number;
  staleAtEnd: string[];
  chattering: Map<string, number>;
  fleeting: Map<string, number>;
  frequent: Map<string, number>;
  late: number;
  judged: number;
}

const told = (line: JournalLine): boolean =>
  line.annunciated && line.what !== 'returned' && line.what !== 'acknowledged';

export function computeBrute(
  lines: readonly JournalLine[],
  from: number,
  to: number,
  positions: number,
  facts: readonly AlarmFacts[],
): Brute {
  const before = lines.filter(({ at }) => at < to);
  const own = before.filter((line) => told(line) && line.at >= from);
  const byAlarm = new Map<string, JournalLine[]>();
  for (const line of before) {
    if (!byAlarm.has(line.alarm)) byAlarm.set(line.alarm, []);
    byAlarm.get(line.alarm)!.push(line);
  }
  const places = new Map(own.map((line, place) => [line, place]));
  const stale = walkStale(byAlarm, from, to);
  const answers = own.map((line) => answerOf(line, byAlarm.get(line.alarm)!, facts, to));
  return {
    total: own.length,
    ...countPeriods(own, from, to, positions),
    days: countDays(own),
    floodSteps: walkFlood(before.filter(told), from, to, positions),
    ...stale,
    chattering: tally(own.filter((line) => isClose(line, own, places.get(line)!))),
    fleeting: tally(own.filter((line) => isFleeting(line, byAlarm.get(line.alarm)!))),
    frequent: tally(own),
    late: answers.filter((answer) => answer === 'late').length,
    judged: answers.filter((answer) => answer !== null).length,
  };
}

function tally(lines: readonly JournalLine[]): Map<string, number> {
  const counts = new Map<string, number>();
  for (const { alarm } of lines) counts.set(alarm, (counts.get(alarm) ?? 0) + 1);
  return counts;
}

function countPeriods(own: readonly JournalLine[], from: number, to: number, positions: number) {
  const count = (length: number): { counts: number[]; whole: number } => {
    const counts: number[] = [];
    for (let start = from; start < to; start += length) counts.push(0);
    for (const { at } of own) counts[Math.floor((at - from) / length)]! += 1;
    return { counts, whole: Math.floor((to - from) / length) };
  };
  const tens = count(600_000);
  const hours = count(3_600_000);
  const above = ({ counts, whole }: typeof tens, limit: number): number =>
    counts.slice(0, whole).filter((each) => each / positions > limit).length / whole;
  return {
    tenMost: tens.counts.reduce((most, each) => Math.max(most, each), 0) / positions,
    tenAbove: above(tens, 10),
    hourAbove: above(hours, 30),
  };
}

const DATE = new Intl.DateTimeFormat('sv-SE', { timeZone: ZONE });
export const dateOf = (at: number): string => DATE.format(at);

function countDays(own: readonly JournalLine[]): Map<string, number> {
  const days = new Map<string, number>();
  for (const { at } of own) days.set(dateOf(at), (days.get(dateOf(at)) ?? 0) + 1);
  return days;
}

/** Steps of `STEP_MS` in flood. */
function walkFlood(all: readonly JournalLine[], from: number, to: number, positions: number): number {
  const first = Math.min(from, ...all.slice(0, 1).map(({ at }) => at));
  const at = new Uint16Array((to - first) / STEP_MS + 1);
  for (const line of all) at[(line.at - first) / STEP_MS]! += 1;
  let [isFlood, steps] = [false, 0];
  for (let i = 0; first + i * STEP_MS < to; i++) {
    let count = 0;
    for (let k = Math.max(0, i - 59); k <= i; k++) count += at[k]!;
    if (!isFlood && count > 10 * positions) isFlood = true;
    else if (isFlood && count < 5 * positions) isFlood = false;
    if (isFlood && first + i * STEP_MS >= from) steps += 1;
  }
  return steps;
}

function walkStale(byAlarm: ReadonlyMap<string, JournalLine[]>, from: number, to: number) {
  const counts = new Uint16Array((to - from) / STEP_MS);
  const staleAtEnd: string[] = [];
  for (const [alarm, lines] of byAlarm) {
    let next = 0;
    let [since, isTold, isShelved, isStale]: [number | null, boolean, boolean, boolean] = [
      null,
      false,
      false,
      false,
    ];
    for (let at = Math.min(from, lines[0]!.at); at < to; at += STEP_MS) {
      for (; next < lines.length && lines[next]!.at <= at; next++) {
        const { what, annunciated } = lines[next]!;
        if (what === 'raised') [since, isTold] = [at, annunciated];
        else if (what === 'returned') [since, isTold] = [null, false];
        else if (what === 'shelved') isShelved = true;
        else if (what !== 'acknowledged') [isShelved, isTold] = [false, isTold || annunciated];
      }
      isStale = since !== null && isTold && !isShelved && at - since >= 86_400_000;
      if (isStale && at >= from) counts[(at - from) / STEP_MS]! += 1;
    }
    if (isStale) staleAtEnd.push(alarm);
  }
  return { staleMost: counts.reduce((most, each) => Math.max(most, each), 0), staleAtEnd };
}

/** Whether three announcements of its alarm, this one among them, lie within less than a minute. */
function isClose(line: JournalLine, own: readonly JournalLine[], place: number): boolean {
  const near = nearest(line, own, place);
  return near.some(
    (start) =>
      start <= line.at &&
      line.at - start < 60_000 &&
      near.filter((each) => each >= start && each - start < 60_000).length >= 3,
  );
}

function nearest(line: JournalLine, own: readonly JournalLine[], place: number): number[] {
  const times: number[] = [];
  for (let i = place; i >= 0 && line.at - own[i]!.at < 60_000; i--)
    if (own[i]!.alarm === line.alarm) times.push(own[i]!.at);
  for (let i = place + 1; i < own.length && own[i]!.at - line.at < 60_000; i++)
    if (own[i]!.alarm === line.alarm) times.push(own[i]!.at);
  return times;
}

function isFleeting(line: JournalLine, ofAlarm: readonly JournalLine[]): boolean {
  const end = ofAlarm.find(({ at, what }) => what === 'returned' && at >= line.at);
  return end !== undefined && end.at - line.at < 60_000;
}

/** null: it cannot be said, or there is no time to respond */
function answerOf(
  line: JournalLine,
  ofAlarm: readonly JournalLine[],
  facts: readonly AlarmFacts[],
  to: number,
): 'late' | 'in-time' | null {
  const respondMs = facts.find(({ id }) => id === line.alarm)?.respondMs ?? null;
  if (respondMs === null) return null;
  const answer = ofAlarm.find(({ at, what }) => what === 'acknowledged' && at >= line.at);
  if (answer === undefined) return to - line.at > respondMs ? 'late' : null;
  return answer.at - line.at > respondMs ? 'late' : 'in-time';
}
