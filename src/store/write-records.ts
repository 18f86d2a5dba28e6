/** Writes what people read, and what the core goes on from: alarms, journal, diagnostics, quarantine, checkpoints, meta. */
import type { Outputs } from '../core/rows.js';
import type { Prepared, Statements } from './statements.js';
import { JournalWriter } from './write-journal.js';

export interface QuarantineRow {
  readonly at: number;
  readonly reason: string;
  readonly topic: string;
  readonly client: string;
  /** bytes of the payload */
  readonly size: number;
  /** of these, the first 256 are kept */
  readonly firstBytes: Uint8Array;
}

/** Rows of quarantine kept; the oldest go first. */
export const QUARANTINE_ROWS_MAX = 20_000;
const HEAD_BYTES_MAX = 256;
const TEXT_LENGTH_MAX = 512;

export class RecordWriter {
  readonly journal: JournalWriter;
  readonly #putAlarm: Prepared;
  readonly #countDiagnostic: Prepared;
  readonly #putCheckpoint: Prepared;
  readonly #addQuarantine: Prepared;
  readonly #trimQuarantine: Prepared;
  readonly #putMeta: Prepared;

  constructor(statements: Statements) {
    this.#putAlarm = statements.prepare('INSERT OR REPLACE INTO alarm VALUES (?, ?)');
    this.journal = new JournalWriter(statements);
    this.#countDiagnostic = statements.prepare(
      `INSERT INTO diagnostic VALUES (?, ?, 1, ?, ?, ?) ON CONFLICT DO UPDATE SET count = count + 1,
       first_at = min(first_at, excluded.first_at), last_at = max(last_at, excluded.last_at), detail = excluded.detail`,
    );
    this.#putCheckpoint = statements.prepare('INSERT OR REPLACE INTO checkpoint VALUES (?, ?, ?)');
    this.#addQuarantine = statements.prepare(
      'INSERT INTO quarantine (at, client, topic, reason, size, head) VALUES (?, ?, ?, ?, ?, ?)',
    );
    this.#trimQuarantine = statements.prepare(
      `DELETE FROM quarantine WHERE id <= (SELECT max(id) FROM quarantine) - ${QUARANTINE_ROWS_MAX}`,
    );
    this.#putMeta = statements.prepare('INSERT OR REPLACE INTO meta VALUES (?, ?)');
  }

  /** The number of the first entry of the journal; null: there was none. */
  write(out: Outputs): number | null {
    for (const a of out.alarms) this.#putAlarm.run(a.id, JSON.stringify(a));
    const journalFrom = this.journal.add(out.journal);
    for (const d of out.diagnostics) this.#countDiagnostic.run(d.subject, d.kind, d.at, d.at, d.detail);
    for (const c of out.checkpoints) this.#putCheckpoint.run(c.key, c.version, c.json);
    return journalFrom;
  }

  quarantine(rows: readonly QuarantineRow[]): void {
    if (rows.length === 0) return;
    for (const r of rows) {
      this.#addQuarantine.run(
        r.at,
        r.client.slice(0, TEXT_LENGTH_MAX),
        r.topic.slice(0, TEXT_LENGTH_MAX),
        r.reason.slice(0, TEXT_LENGTH_MAX),
        r.size,
        r.firstBytes.subarray(0, HEAD_BYTES_MAX),
      );
    }
    this.#trimQuarantine.run();
  }

  setMeta(key: string, value: string): void {
    this.#putMeta.run(key, value);
  }
}
