/**
 * The delivery ledger of a sink: for each stream and subject, what was produced since the sink is there equals what was
 * delivered, superseded, is pending, quarantined or expired. Produced is counted by the engine with each commit, pending in
 * the outbox, the rest by the forwarder with each of its own: no term is computed from the others.
 */
import type Database from 'better-sqlite3';
import type { OutboxReader } from '../store/outbox-reader.js';
import { openRanges, type Cursor } from './cursor.js';
import { streamOf } from './picked.js';

export interface LedgerLine {
  readonly stream: string;
  /** of rollups and manifests; null: of others */
  readonly period: string | null;
  /** sensor, motor, or subject of an alarm or entry */
  readonly subject: string;
  readonly produced: number;
  readonly delivered: number;
  readonly superseded: number;
  readonly pending: number;
  readonly quarantined: number;
  readonly expired: number;
}

interface Cells {
  readonly subject: number;
  readonly base: number;
  readonly delivered: number;
  readonly superseded: number;
  readonly quarantined: number;
  readonly expired: number;
}

const NOTHING = { base: 0, delivered: 0, superseded: 0, quarantined: 0, expired: 0 };

/** In the order of streams and subjects. `outbox` and `db` must be of one moment: nothing is forwarded meanwhile. */
export function readDeliveryLedger(
  db: Database.Database,
  outbox: OutboxReader,
  sink: string,
  cursors: ReadonlyMap<number, Cursor>,
): LedgerLine[] {
  return outbox.snapshot(() => {
    const heads = outbox.heads();
    return [...cursors]
      .sort(([a], [b]) => a - b)
      .flatMap(([code, cursor]) => {
        const pending = new Map<number, number>();
        for (const [after, to] of openRanges(cursor, heads.get(code) ?? 0))
          for (const { subject, count } of outbox.countBySubject(code, after, to))
            pending.set(subject, (pending.get(subject) ?? 0) + count);
        const rows = db
          .prepare(
            'SELECT subject, base, delivered, superseded, quarantined, expired FROM ledger WHERE sink = ? AND code = ?',
          )
          .all(sink, code) as Cells[];
        return linesOf(code, outbox, new Map(rows.map((row) => [row.subject, row])), pending);
      });
  });
}

function linesOf(
  code: number,
  outbox: OutboxReader,
  rows: ReadonlyMap<number, Omit<Cells, 'subject'>>,
  pending: ReadonlyMap<number, number>,
): LedgerLine[] {
  const produced = outbox.produced(code);
  const subjects = new Set([...produced.keys(), ...rows.keys(), ...pending.keys()]);
  const { stream, period } = streamOf(code);
  return [...subjects]
    .map((subject) => {
      const { base, ...settled } = rows.get(subject) ?? NOTHING;
      return {
        ...{ stream, period, subject: outbox.nameOf(subject) },
        produced: (produced.get(subject) ?? 0) - base,
        ...{ delivered: settled.delivered, superseded: settled.superseded },
        pending: pending.get(subject) ?? 0,
        ...{ quarantined: settled.quarantined, expired: settled.expired },
      };
    })
    .filter((line) => line.produced !== 0 || !isBalanced(line))
    .sort((a, b) => (a.subject < b.subject ? -1 : 1));
}

export function isBalanced(line: LedgerLine): boolean {
  const { produced, delivered, superseded, pending, quarantined, expired } = line;
  return produced === delivered + superseded + pending + quarantined + expired;
}

export interface LossLine {
  readonly stream: string;
  readonly period: string | null;
  readonly subject: string;
  readonly count: number;
  /** of what was given up, ms */
  readonly firstStart: number;
  readonly lastStart: number;
  readonly at: number;
  readonly reason: string;
}

/** The newest first. */
export function readLosses(
  db: Database.Database,
  outbox: OutboxReader,
  sink: string,
  limit: number,
): LossLine[] {
  const rows = db
    .prepare(
      `SELECT code, subject, count, first_start, last_start, at, reason FROM loss WHERE sink = ? ORDER BY id DESC LIMIT ?`,
    )
    .all(sink, limit) as {
    code: number;
    subject: number;
    count: number;
    first_start: number;
    last_start: number;
    at: number;
    reason: string;
  }[];
  return rows.map(({ code, subject, count, first_start: firstStart, last_start: lastStart, at, reason }) => {
    const { stream, period } = streamOf(code);
    return { stream, period, subject: outbox.nameOf(subject), count, firstStart, lastStart, at, reason };
  });
}

/** Cursors as they are written down. */
export function readCursors(db: Database.Database, sink: string): Map<number, Cursor> {
  const rows = db.prepare('SELECT code, live, gaps FROM cursor WHERE sink = ?').all(sink) as {
    code: number;
    live: number;
    gaps: string;
  }[];
  return new Map(
    rows.map(({ code, live, gaps }) => [code, { live, gaps: JSON.parse(gaps) as Cursor['gaps'] }]),
  );
}
