/**
 * Manifests in the outbox: one for each sensor, period and UTC day when the day is over, and again when late data changed
 * it, at most each ten minutes.
 */
import type { OutboxEntries } from './outbox-entries.js';
import { MANIFEST_CODES, ROLLUP_CODES, STORED_PERIODS } from './outbox-streams.js';
import { DAY_MS, ROLLUP_TABLES } from './rollup-row.js';
import type { Prepared, Statements } from './statements.js';

/** A day is taken as over so long after its midnight: its last hour has closed by then. */
const SEAL_DELAY_MS = 300_000;
const AGAIN_EVERY_MS = 600_000;
/** Manifests that go out again at once. */
const AGAIN_AT_ONCE = 5_000;
const SEALED = 'outbox-sealed-day';
/** By code of a rollup. */
const MANIFEST_OF = new Map(STORED_PERIODS.map((period) => [ROLLUP_CODES[period], MANIFEST_CODES[period]]));

export class OutboxDays {
  readonly #statements: Statements;
  readonly #entries: OutboxEntries;
  readonly #note: Prepared;
  /** midnight of the first day that is not sealed yet, ms; null: to be looked up */
  #unsealed: number | null = null;
  #nextAt = 0;

  constructor(statements: Statements, entries: OutboxEntries) {
    this.#statements = statements;
    this.#entries = entries;
    this.#note = statements.prepare('INSERT OR IGNORE INTO manifest_due VALUES (?, ?, ?)');
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.#unsealed = null;
  }

  /** Days before that of `now` are none of this outbox. */
  begin(now: number): void {
    this.#keep(now - (now % DAY_MS));
  }

  #keep(day: number): void {
    this.#statements.prepare('INSERT OR REPLACE INTO meta VALUES (?, ?)').run(SEALED, String(day));
    this.#unsealed = day;
  }

  #firstUnsealed(): number {
    this.#unsealed ??= Number(
      this.#statements.value('SELECT value FROM meta WHERE key = ?', SEALED) ?? Number.NaN,
    );
    return this.#unsealed;
  }

  /** A rollup changed. `code`: of its stream; `subject`: of its sensor. */
  note(code: number, subject: number, start: number): void {
    const day = start - (start % DAY_MS);
    if (day < this.#firstUnsealed()) this.#note.run(MANIFEST_OF.get(code), subject, day);
  }

  enter(now: number): void {
    const over = now - SEAL_DELAY_MS - ((now - SEAL_DELAY_MS) % DAY_MS);
    const first = this.#firstUnsealed();
    if (over > first) {
      for (let day = first; day < over; day += DAY_MS) this.#seal(day, now);
      this.#keep(over);
    }
    if (now < this.#nextAt) return;
    this.#nextAt = now - (now % AGAIN_EVERY_MS) + AGAIN_EVERY_MS;
    const due = this.#statements.all(
      'SELECT stream, subject, day FROM manifest_due LIMIT ?',
      AGAIN_AT_ONCE,
    ) as [number, number, number][];
    const remove = this.#statements.prepare(
      'DELETE FROM manifest_due WHERE stream = ? AND subject = ? AND day = ?',
    );
    for (const [stream, subject, day] of due) {
      remove.run(stream, subject, day);
      this.#entries.add(stream, subject, day, 0, now);
    }
  }

  #seal(day: number, now: number): void {
    for (const period of STORED_PERIODS) {
      const sensors = this.#statements.all(
        `SELECT id FROM name WHERE EXISTS (SELECT 1 FROM ${ROLLUP_TABLES[period]}
           WHERE sensor = name.id AND start >= ? AND start < ?) ORDER BY id`,
        day,
        day + DAY_MS,
      ) as [number][];
      for (const [sensor] of sensors) this.#entries.add(MANIFEST_CODES[period], sensor, day, 0, now);
    }
  }
}
