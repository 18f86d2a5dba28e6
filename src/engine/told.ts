/** Gathers, over the steps of one batch, what is told after its commit: messages below `out/`, and rows for live readers. */
import { alarmTopic, journalTopic, rateTopic, rollupTopic } from '../../shared/topics.js';
import { writeAlarm, writeJournal, writeRate, writeRollup } from '../../shared/write-messages.js';
import { findAdvice } from '../core/alarm-advice.js';
import type { Plan } from '../core/plan.js';
import { rateOf, type RateCounts } from '../core/rate.js';
import type { AlarmRecord, JournalEntry } from '../core/alarm-rows.js';
import type { BinSum, DriveRow, Outputs, PresenceRow, RateNow, Sums, Transient } from '../core/rows.js';
import type { Period } from '../core/words.js';
import { sortBins } from '../store/rollup-row.js';
import type { OutMessage, Told } from './protocol.js';

/** A rollup as it stands in the store after this batch. */
export interface StoredRollup extends Sums {
  readonly sensor: string;
  readonly period: Period;
  readonly start: number;
  readonly revision: number;
  readonly bins: BinSum[];
}

/** Rows of each kind told in one batch; a backlog makes more, and its live readers ask the store. */
const ROWS_MAX = 2_000;

export class ToldCollector {
  readonly #plan: Plan;
  readonly #rates = new Map<string, RateCounts>();
  readonly #alarms = new Map<string, AlarmRecord>();
  readonly #drives: DriveRow[] = [];
  readonly #presences: PresenceRow[] = [];
  readonly #transients: Transient[] = [];
  readonly #journal: JournalEntry[] = [];
  readonly #journalIds: (number | null)[] = [];
  readonly #rollups = new Map<string, StoredRollup>();
  readonly #keepsRollups: boolean;
  #flood: Told['flood'] = null;

  /** `keepsRollups`: whether anybody listens to them. */
  constructor(plan: Plan, keepsRollups: boolean) {
    this.#plan = plan;
    this.#keepsRollups = keepsRollups;
  }

  add(out: Outputs): void {
    this.#flood = out.flood ?? this.#flood;
    for (const rate of out.rates) this.#rates.set(rate.window.sensor, rate);
    for (const alarm of out.alarms) this.#alarms.set(alarm.id, alarm);
    addUpTo(this.#drives, out.drives);
    addUpTo(this.#presences, out.presences);
    addUpTo(this.#transients, out.transients);
    addUpTo(this.#journal, out.journal);
    if (!this.#keepsRollups) return;
    for (const window of out.windows)
      this.#note({ ...window, period: '10s', revision: 0, bins: sortBins(window, window.bins) });
  }

  /** Of the entries that `add` took last: the number of the first. */
  numberJournal(from: number | null): void {
    const first = this.#journalIds.length;
    for (let i = first; i < this.#journal.length; i++)
      this.#journalIds.push(from === null ? null : from + i - first);
  }

  /** As they stand in the store after this batch. */
  addRollups(rollups: readonly StoredRollup[]): void {
    for (const rollup of rollups) this.#note(rollup);
  }

  #note(rollup: StoredRollup): void {
    if (!this.#keepsRollups || this.#rollups.size >= ROWS_MAX) return;
    this.#rollups.set(`${rollup.sensor}/${rollup.period}/${rollup.start}`, rollup);
  }

  /** null: nothing to tell. */
  finish(tick: number | null): Told | null {
    const publications: OutMessage[] = [];
    const rates = [...this.#rates.values()].map(rateOf);
    for (const rate of rates) publications.push(tellRate(this.#plan.site, rate));
    for (const rollup of this.#rollups.values()) publications.push(tellRollup(this.#plan.site, rollup));
    for (const alarm of this.#alarms.values()) publications.push(tellAlarm(this.#plan, alarm));
    for (const entry of this.#journal) publications.push(tellJournal(this.#plan.site, entry));
    const told: Told = {
      publications,
      rates,
      alarms: [...this.#alarms.values()],
      drives: this.#drives,
      presences: this.#presences,
      transients: this.#transients,
      journal: this.#journal,
      journalIds: this.#journalIds,
      tick,
      flood: this.#flood,
    };
    const { drives, presences, transients } = told;
    const isEmpty = [publications, drives, presences, transients].every((rows) => rows.length === 0);
    return isEmpty && tick === null ? null : told;
  }
}

function addUpTo<T>(into: T[], rows: readonly T[]): void {
  for (const row of rows) {
    if (into.length >= ROWS_MAX) return;
    into.push(row);
  }
}

function splitKey(sensor: string): [motor: string, position: string] {
  const slash = sensor.indexOf('/');
  return [sensor.slice(0, slash), sensor.slice(slash + 1)];
}

export function tellRate(site: string, rate: RateNow): OutMessage {
  const [motor, position] = splitKey(rate.sensor);
  return { topic: rateTopic(site, motor, position), payload: JSON.stringify(writeRate(rate)), retain: true };
}

export function tellRollup(site: string, rollup: StoredRollup): OutMessage {
  const [motor, position] = splitKey(rollup.sensor);
  const topic = rollupTopic(site, motor, position, rollup.period);
  return { topic, payload: JSON.stringify(writeRollup(rollup)), retain: false };
}

export function tellAlarm(plan: Plan, alarm: AlarmRecord): OutMessage {
  const payload = JSON.stringify(writeAlarm(alarm, findAdvice(plan, alarm.id)));
  return { topic: alarmTopic(plan.site, alarm.motor, alarm.alarm), payload, retain: true };
}

export function tellJournal(site: string, entry: JournalEntry): OutMessage {
  return { topic: journalTopic(site), payload: JSON.stringify(writeJournal(entry)), retain: false };
}
