/**
 * Writes the entries of the journal, each chained to the one before, within the transaction that the engine opened; and
 * removes the oldest of them when their time is over.
 */
import type { JournalEntry } from '../core/alarm-rows.js';
import { entryOf } from '../core/journal.js';
import {
  CHAIN_KEY,
  CHAINED_COLUMNS,
  describeAnchor,
  digestEntry,
  putChainRecord,
  readChainRecord,
  RETENTION_SUBJECT,
  type ChainedCells,
  type ChainRecord,
} from './journal-chain.js';
import type { Prepared, Statements } from './statements.js';

const DAY_MS = 86_400_000;

export class JournalWriter {
  readonly #statements: Statements;
  readonly #insert: Prepared;
  /** null: what the store holds must be looked up again */
  #chain: ChainRecord | null = null;

  constructor(statements: Statements) {
    this.#statements = statements;
    const marks = CHAINED_COLUMNS.map(() => '?').join(', ');
    this.#insert = statements.prepare(
      `INSERT INTO journal (${CHAINED_COLUMNS.join(', ')}, digest) VALUES (${marks}, ?)`,
    );
  }

  /** Forgets what a rollback took back. */
  reload(): void {
    this.#chain = null;
  }

  /** The number of the first; the others follow it. null: there were none. */
  add(entries: readonly JournalEntry[]): number | null {
    if (entries.length === 0) return null;
    const { anchor, ...chain } = this.#chainNow();
    let { start, head } = chain;
    const first = head.id + 1;
    for (const entry of entries) {
      const id = head.id + 1;
      const cells = cellsOf(id, entry);
      const digest = digestEntry(head.digest, cells);
      this.#insert.run(...cells, Buffer.from(digest, 'hex'));
      start ??= id;
      head = { id, digest };
    }
    this.#keep({ start, anchor, head });
    return first;
  }

  /**
   * Removes entries from the oldest on as long as they are older than `keptMs`, `most` of them at once, and enters that it
   * did; how many. Not for a few: only when a hundredth more than their time has gathered.
   */
  removeOldest(now: number, keptMs: number, most: number): number {
    const until = now - keptMs;
    const time = 'max(at, detected_at)';
    const oldest = this.#statements.value(`SELECT ${time} FROM journal ORDER BY id LIMIT 1`) as number | null;
    if (oldest === null || (oldest >= until - keptMs / 100 && oldest <= now + DAY_MS)) return 0;
    // a time far in the future was written by a wrong clock: such an entry goes with those around it
    const young = `SELECT id FROM journal WHERE ${time} BETWEEN ? AND ? ORDER BY id LIMIT 1`;
    const end = this.#statements.value(young, until, now + DAY_MS) as number | null;
    const rows = this.#statements.all(
      `SELECT id, ${time}, lower(hex(digest)), kind, subject FROM journal WHERE id < ? ORDER BY id LIMIT ?`,
      end ?? Number.MAX_SAFE_INTEGER,
      most,
    ) as [number, number, string, string, string][];
    while (rows.length > 0 && rows[rows.length - 1]![1] >= until) rows.pop();
    const last = rows[rows.length - 1];
    if (last === undefined || rows.every(([, , , kind, subject]) => isOwn(kind, subject))) return 0;
    this.#remove(last[0], last[2], rows.length, now);
    return rows.length;
  }

  #remove(id: number, digest: string, rows: number, now: number): void {
    const chain = this.#chainNow();
    this.#statements.prepare('DELETE FROM journal WHERE id <= ?').run(id);
    const anchor = { id, digest, count: (chain.anchor?.count ?? 0) + rows, at: now };
    this.#chain = { ...chain, anchor };
    const said = { kind: 'gateway' as const, subject: RETENTION_SUBJECT, text: describeAnchor(anchor) };
    this.add([entryOf({ at: now, detectedAt: now, ...said }, '')]);
  }

  /**
   * Where to go on. Behind every entry that is there, also one that nobody of ours wrote, so that the gateway is not
   * stopped by it; chained to the last one that was ours, so that `verify` finds it.
   */
  #chainNow(): ChainRecord {
    if (this.#chain !== null) return this.#chain;
    const kept = readChainRecord(this.#statements.value('SELECT value FROM meta WHERE key = ?', CHAIN_KEY));
    const last = (this.#statements.value('SELECT max(id) FROM journal') as number | null) ?? 0;
    if (kept !== null) return { ...kept, head: { ...kept.head, id: Math.max(kept.head.id, last) } };
    const digest = this.#statements.value('SELECT lower(hex(digest)) FROM journal WHERE id = ?', last);
    const first = this.#statements.value('SELECT min(id) FROM journal WHERE digest IS NOT NULL');
    return {
      start: first as number | null,
      anchor: null,
      head: { id: last, digest: (digest as string | null) ?? '' },
    };
  }

  #keep(chain: ChainRecord): void {
    putChainRecord(this.#statements, chain);
    this.#chain = chain;
  }
}

function isOwn(kind: string, subject: string): boolean {
  return kind === 'gateway' && subject === RETENTION_SUBJECT;
}

/** In the order of `CHAINED_COLUMNS`. */
function cellsOf(id: number, j: JournalEntry): ChainedCells {
  const evidence = j.evidence === null ? null : JSON.stringify(j.evidence);
  const texts = [j.kind, j.subject, j.from, j.to, j.who, j.text, j.what].map(toStorable);
  return [id, j.at, j.detectedAt, ...texts, j.annunciated ? 1 : 0, toStorable(j.configuration), evidence];
}

/** Half a surrogate pair cannot be stored; what would come back in its place is digested. */
function toStorable(text: string): string {
  return /[\ud800-\udfff]/.test(text) ? Buffer.from(text).toString() : text;
}
