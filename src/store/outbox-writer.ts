/**
 * Fills the outbox: whatever a transaction changed of rollups and transients, and what the journal tells of alarms, becomes
 * an entry within that transaction, once for each row. The core puts a rollup out when its period has closed, and again
 * when late data change it, so each time is worth an entry.
 */
import type { Outputs } from '../core/rows.js';
import type { NameTable } from './names.js';
import { OutboxDays } from './outbox-days.js';
import { OutboxEntries } from './outbox-entries.js';
import { OUTBOX_EPOCH } from './outbox-epoch.js';
import { ALARMS, JOURNAL, OUTBOX_STREAMS, REMOVED, ROLLUP_CODES, TRANSIENTS } from './outbox-streams.js';
import { ROLLUP_TABLES } from './rollup-row.js';
import type { Prepared, Statements } from './statements.js';

/** Entries that are deleted in one transaction. */
const DELETED_AT_ONCE = 4_000;

interface Touched {
  readonly code: number;
  readonly subject: number;
  readonly start: number;
  readonly isRemoved: boolean;
}

export class OutboxWriter {
  readonly #names: NameTable;
  readonly #statements: Statements;
  readonly #entries: OutboxEntries;
  readonly #days: OutboxDays;
  readonly #revisions: ReadonlyMap<number, Prepared>;
  readonly #touched = new Map<string, Touched>();
  /** by stream: entries up to here are settled at every sink */
  readonly #done = new Map<number, number>();

  constructor(names: NameTable, statements: Statements) {
    this.#names = names;
    this.#statements = statements;
    this.#entries = new OutboxEntries(statements);
    this.#days = new OutboxDays(statements, this.#entries);
    this.#revisions = new Map(
      (['1m', '10m', '1h'] as const).map((period) => [
        ROLLUP_CODES[period],
        statements.prepare(`SELECT revision FROM ${ROLLUP_TABLES[period]} WHERE sensor = ? AND start = ?`),
      ]),
    );
  }

  /** Begins an outbox where there is none yet; outside of a transaction. */
  open(now: number): void {
    if ((this.#statements.value('SELECT value FROM meta WHERE key = ?', OUTBOX_EPOCH) ?? '') !== '') return;
    this.#statements.db.transaction(() => {
      this.#entries.begin(now);
      this.#days.begin(now);
      putEpoch(this.#statements, String(now));
    })();
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.#touched.clear();
    this.#entries.reload();
    this.#days.reload();
  }

  note(out: Outputs): void {
    for (const { sensor, period, start } of out.rollups)
      this.#touch(ROLLUP_CODES[period], this.#names.id(sensor), start, false);
    for (const { motor, from } of out.removedTransients)
      this.#touch(TRANSIENTS, this.#names.id(motor), from, true);
    for (const { motor, from } of out.transients) this.#touch(TRANSIENTS, this.#names.id(motor), from, false);
  }

  #touch(code: number, subject: number, start: number, isRemoved: boolean): void {
    this.#touched.set(`${code} ${subject} ${start}`, { code, subject, start, isRemoved });
  }

  /** At the end of a transaction. `now` in ms. */
  enter(now: number): void {
    for (const { code, subject, start, isRemoved } of this.#touched.values()) {
      const revisions = this.#revisions.get(code);
      const revision =
        revisions === undefined
          ? Number(isRemoved && REMOVED)
          : ((revisions.get(subject, start) as [number] | undefined)?.[0] ?? 0);
      this.#entries.add(code, subject, start, revision, now);
      if (revisions !== undefined) this.#days.note(code, subject, start);
    }
    this.#touched.clear();
    this.#enterJournal(now);
    this.#days.enter(now);
    this.#entries.finish();
    this.#deleteDone();
  }

  /** Entries that were written since, also while no gateway ran; an alarm of which one tells a change has changed. */
  #enterJournal(now: number): void {
    const rows = this.#statements.all(
      `SELECT id, subject, what, EXISTS (SELECT 1 FROM alarm WHERE alarm.id = journal.subject) FROM journal
       WHERE id > ? ORDER BY id`,
      this.#entries.head(JOURNAL),
    ) as [number, string, string, number][];
    const changed = new Set<string>();
    for (const [id, subject, what, isAlarm] of rows) {
      this.#entries.add(JOURNAL, this.#names.id(subject), id, 0, now, id);
      if (what !== '' && isAlarm === 1) changed.add(subject);
    }
    for (const alarm of changed) this.#entries.add(ALARMS, this.#names.id(alarm), 0, 0, now);
  }

  /** What every sink has settled, by stream; it goes bit by bit with the transactions to come. */
  settle(done: ReadonlyMap<number, number>): void {
    for (const [stream, position] of done) this.#done.set(stream, position);
  }

  #deleteDone(): void {
    let left = DELETED_AT_ONCE;
    for (const { code } of OUTBOX_STREAMS) {
      const done = this.#done.get(code);
      if (done === undefined || left <= 0) continue;
      const slice = 'SELECT position FROM outbox WHERE stream = ? ORDER BY position LIMIT 1 OFFSET ?';
      const end = this.#statements.value(slice, code, left) as number | null;
      const until = end === null ? done : Math.min(done, end - 1);
      const remove = this.#statements.prepare('DELETE FROM outbox WHERE stream = ? AND position <= ?');
      left -= remove.run(code, until).changes;
      if (until === done) this.#done.delete(code);
    }
  }
}

function putEpoch(statements: Statements, epoch: string): void {
  statements.prepare('INSERT OR REPLACE INTO meta VALUES (?, ?)').run(OUTBOX_EPOCH, epoch);
}

/** Nothing is forwarded any more: what was kept for it goes. */
export function dropOutbox(statements: Statements): void {
  if ((statements.value('SELECT value FROM meta WHERE key = ?', OUTBOX_EPOCH) ?? '') === '') return;
  statements.db.transaction(() => {
    for (const table of ['outbox', 'outbox_produced', 'manifest_due'])
      statements.prepare(`DELETE FROM ${table}`).run();
    putEpoch(statements, '');
  })();
}
