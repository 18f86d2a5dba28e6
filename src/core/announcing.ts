/**
 * What of its raises the operator is told, decided after each fact, when all that it raised is known. Told at once:
 * what is new and stands alone. Told later: what may be one of many with one cause, and what happened long ago and may have
 * returned since, as readings still to come would show. Not told: what was over when it became known, and members of a group.
 * Source: DESIGN appendix, "later revisions re-evaluate and journal, and annunciate only what still stands".
 */
import type { AlarmRecord, JournalEntry } from './alarm-rows.js';
import { deriveState, isHidden } from './alarm-table.js';
import { alarmingRow, sortAlarms, type Waiting } from './alarming.js';
import { gatherMsOf } from './causes.js';
import { countFlood } from './flood.js';
import { causeOf, joinGroup, watchGroups } from './grouping.js';
import { holdAlarms } from './hold.js';
import { enter } from './journal.js';
import type { CoreState } from './state.js';
import { sayUtc } from './utc-text.js';

/** A raise that became known so long after it could be judged came from a backlog: punctual readings take two minutes. Our choice. */
const LATE_MS = 600_000;
/** So long after the last late reading of its sensor nothing more of the backlog is expected. */
const QUIET_MS = 60_000;
/** Longest wait for the end of a backlog. */
const LATE_WAIT_MAX_MS = 3_600_000;
/** Looked at a day at a time, an hour or two after its end: that is its punctual time. */
const DAILY: ReadonlySet<string> = new Set(['above-peers', 'silent-in-company']);

/** With every look at the plain conditions, every ten seconds. */
export function tickAlarms(state: CoreState): void {
  sortAlarms(state.alarming, state.out.alarms);
  holdAlarms(state);
  watchGroups(state);
  for (const [id, waiting] of state.alarming.waiting) tellWaiting(state, id, waiting);
}

/**
 * After every fact, on the entries that it made: what is told must not depend on how many facts come in one batch. A fact is
 * as much as becomes known at once: a tick, or a look at the past.
 */
export function announceFact(state: CoreState, isTick: boolean): void {
  const { alarming, out } = state;
  const isNews = out.journal.length > alarming.settledEntries;
  if (isNews) {
    const news = out.journal.slice(alarming.settledEntries);
    settleRaises(state, news);
  }
  if (isNews || isTick) countFlood(state, out.journal.slice(alarming.settledEntries));
  alarming.settledEntries = out.journal.length;
  sortAlarms(alarming, out.alarms);
}

/** At the end of every step: what is remembered of telling is written if it changed. */
export function closeAnnouncing({ alarming, out }: CoreState): void {
  alarming.settledEntries = 0;
  alarming.sortedAlarms = 0;
  if (alarming.changed) out.checkpoints.push(alarmingRow(alarming));
  alarming.changed = false;
}

function isMove({ kind, what }: JournalEntry): boolean {
  return kind === 'alarm' && (what === 'raised' || what === 'returned');
}

/** The last raise or return of each alarm decides about those before it. */
function settleRaises(state: CoreState, news: readonly JournalEntry[]): void {
  const last = new Map<string, JournalEntry>();
  const moves = news.filter(isMove);
  for (const entry of moves) last.set(entry.subject, entry);
  const before = new Map<string, JournalEntry>();
  for (const entry of moves) {
    if (entry.what === 'returned') {
      const isLast = last.get(entry.subject) === entry;
      if (isUntoldReturn(state, entry, before.get(entry.subject))) answerReturn(state, news, entry, isLast);
    }
    before.set(entry.subject, entry);
  }
  const raised = moves.filter(({ what }) => what === 'raised');
  const open = raised.filter((entry) => entry.annunciated && last.get(entry.subject) === entry);
  for (const entry of raised) if (last.get(entry.subject) !== entry) entry.annunciated = false;
  for (const { subject } of open) state.alarms.get(subject)!.annunciatedAt = null;
  for (const entry of open) settleRaise(state, state.alarms.get(entry.subject)!, entry);
}

/** Whether the return ends what nobody was told of. `raise`: the entry of the alarm before it, of the same fact. */
function isUntoldReturn(state: CoreState, entry: JournalEntry, raise: JournalEntry | undefined): boolean {
  const record = state.alarms.get(entry.subject);
  if (record === undefined) return false;
  const wasWaiting = state.alarming.waiting.delete(record.id);
  if (wasWaiting) state.alarming.changed = true;
  const isOver = raise?.what === 'raised' && raise.annunciated;
  const wasCovered = wasWaiting || record.groupedUnder !== null;
  record.groupedUnder = null;
  return isOver || (wasCovered && record.annunciatedAt === null);
}

/** What the states of a return become when nothing waits for a person. */
const ANSWERED: Readonly<Record<string, string>> = {
  'returned-unacknowledged': 'normal',
  'latched-unacknowledged': 'latched-acknowledged',
};

/**
 * Nobody is told of the end of what nobody was told of, and nothing waits for a person. What follows of the alarm up to its next
 * raise, the end of a shelf for one return, begins where this one now ends.
 */
function answerReturn(
  state: CoreState,
  news: readonly JournalEntry[],
  entry: JournalEntry,
  isLast: boolean,
): void {
  entry.annunciated = false;
  entry.to = ANSWERED[entry.to] ?? entry.to;
  for (const later of news.slice(news.indexOf(entry) + 1)) {
    if (later.subject !== entry.subject) continue;
    later.from = ANSWERED[later.from] ?? later.from;
    if (isMove(later)) break;
    later.to = ANSWERED[later.to] ?? later.to;
  }
  const record = state.alarms.get(entry.subject)!;
  if (!isLast || record.active) return;
  record.annunciatedAt = null;
  record.acknowledged = true;
  record.confirmed = true;
  record.state = deriveState(record);
}

/** How long the core itself waits before it judges a moment, for readings that overtake one another. */
function waitOf(state: CoreState, { sensor: key }: AlarmRecord): number {
  return key === null ? 0 : (state.sensors.get(key)?.sweepDelayMs ?? 0);
}

function settleRaise(state: CoreState, record: AlarmRecord, entry: JournalEntry): void {
  const { at, detectedAt } = entry;
  const isLate = !DAILY.has(record.kind) && detectedAt - at > LATE_MS + waitOf(state, record);
  const joined = joinGroup(state, record);
  const mustWait = joined === 'possible' && record.priority !== 'high';
  if (joined === 'met') {
    entry.annunciated = false;
    return;
  }
  if (!isLate && !mustWait) {
    record.annunciatedAt = detectedAt;
    return;
  }
  entry.annunciated = false;
  const cause = causeOf(record);
  const likeMs = mustWait && cause !== null ? gatherMsOf(state.plan, cause) : 0;
  const until = detectedAt + (isLate ? Math.max(QUIET_MS, likeMs) : likeMs);
  const atMost = detectedAt + (isLate ? LATE_WAIT_MAX_MS : likeMs);
  state.alarming.waiting.set(record.id, { until, atMost, why: isLate ? 'late' : 'like' });
  state.alarming.changed = true;
}

/** Tells an alarm whose wait is over, unless something stands for it, a person has seen it, or it is hidden now. */
function tellWaiting(state: CoreState, id: string, waiting: Waiting): void {
  const { alarming } = state;
  const record = state.alarms.get(id);
  const end = (): void => {
    alarming.waiting.delete(id);
    alarming.changed = true;
  };
  if (record === undefined || record.acknowledged) return end();
  // its return, in this very tick, still has to know that it waited
  if (!record.active) return;
  if (record.annunciatedAt !== null || isHidden(record)) return end();
  if (joinGroup(state, record) === 'met') return end();
  const sensor = record.sensor === null ? undefined : state.sensors.get(record.sensor);
  const isRevised = sensor !== undefined && sensor.dirty !== null;
  if (waiting.why === 'late' && isRevised && waiting.until < waiting.atMost) {
    waiting.until = Math.min(state.now + QUIET_MS, waiting.atMost);
    alarming.changed = true;
  }
  if (state.now < waiting.until) return;
  end();
  const since = sayUtc(record.since ?? state.now);
  const text = waiting.why === 'late' ? `it has stood since ${since}, known only now: ` : '';
  record.annunciatedAt = state.now;
  state.out.alarms.push(record);
  const shown = { from: record.state, to: record.state, evidence: record.evidence };
  const parts = {
    at: state.now,
    kind: 'alarm' as const,
    subject: id,
    what: 'annunciated' as const,
    ...shown,
  };
  enter(state, { ...parts, annunciated: true, text: text + (record.evidence?.says ?? '') });
}
