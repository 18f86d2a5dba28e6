/** What the notifier reads of the journal, described by what it needs of it. */
import type { AlarmPriority, JournalChange } from '../../shared/alarm-terms.js';
import type { AlarmTraits } from './routes.js';

/** An entry; times in ms. */
export interface JournalRow {
  readonly id: number;
  readonly at: number;
  readonly detectedAt: number;
  readonly subject: string;
  /** state after it */
  readonly to: string;
  readonly who: string;
  readonly text: string;
  readonly what: JournalChange;
  readonly annunciated: boolean;
  /** when the activation that it tells of was raised: before `at` where it was told later; of any other entry the same as `at` */
  readonly since: number;
}

/** Of the record of an alarm. */
export interface AlarmRow {
  readonly id: string;
  readonly motor: string;
  readonly sensor: string | null;
  readonly kind: string;
  readonly priority: AlarmPriority;
}

/** Entries by id, ascending, and the records of the alarms that they are about. */
export interface JournalPage {
  readonly entries: readonly JournalRow[];
  readonly alarms: readonly AlarmRow[];
}

/** What is known of an alarm besides its journal. */
export interface AlarmFacts extends AlarmTraits {
  readonly position: string | null;
  readonly action: string;
  readonly consequence: string;
  readonly cautions: readonly string[];
  /** time to respond, ms */
  readonly respondMs: number;
}

export type DescribeAlarm = (id: string, row: AlarmRow | null) => AlarmFacts;

/** An entry with what is known of its alarm. */
export interface KnownEntry extends JournalRow {
  readonly facts: AlarmFacts;
}

export function describeEntries(page: JournalPage, describe: DescribeAlarm): KnownEntry[] {
  const rows = new Map(page.alarms.map((row) => [row.id, row]));
  return page.entries.map((entry) => ({
    ...entry,
    facts: describe(entry.subject, rows.get(entry.subject) ?? null),
  }));
}
