/**
 * Reading while the gateway writes: a connection of its own, read-only, each query short and whole, so that no reader ever
 * pins the WAL or holds up a commit. Pages end with a cursor; give it back for the next one.
 */
import Database from 'better-sqlite3';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { AlarmRecord, DriveRow, Evidence, JournalEntry, Sums, Transient } from '../core/rows.js';
import { CLASS_NAMES, Flag, PERIOD_MS, REASON_NAMES, type Period } from '../core/words.js';
import { FILE_NAME } from './open.js';
import { SCHEMA_VERSION, SUM_COLUMNS } from './schema.js';
import { StoreError } from './store-error.js';
import { toSums, type RollupRow } from './writer.js';

type Cells = (number | string | null)[];

export interface Page<T> {
  readonly items: readonly T[];
  readonly next: string | null;
}

/** `from` inclusive, `to` exclusive, in ms; null: unbounded. */
export interface PageQuery {
  readonly from: number | null;
  readonly to: number | null;
  readonly limit: number;
  readonly cursor: string | null;
}

/** One reading and its increment, as it is exported: no surrogate ids. */
export interface IncrementRecord {
  sensor: string;
  from: number;
  to: number;
  device: string;
  boot: number | null;
  seq: number | null;
  count: number;
  pulses: number;
  ms: number;
  class: string;
  reason: string;
  quality: 'good' | 'uncertain';
}

const FIRST = Number.MIN_SAFE_INTEGER;
const LAST = Number.MAX_SAFE_INTEGER;
const TABLES = { '1m': 'rollup_1m', '10m': 'rollup_10m', '1h': 'rollup_1h' } as const;

/** Places inside an ordered list, as opaque text. */
function toCursor(...place: (number | string)[]): string {
  return Buffer.from(JSON.stringify(place)).toString('base64url');
}

function fromCursor(cursor: string, length: number): (number | string)[] {
  try {
    const place: unknown = JSON.parse(Buffer.from(cursor, 'base64url').toString());
    if (Array.isArray(place) && place.length === length) return place as (number | string)[];
  } catch {
    // said below
  }
  throw new StoreError('missing', 'the cursor is not one of ours', 'start again without a cursor', false);
}

export class ReadStore {
  private readonly statements = new Map<string, Database.Statement>();

  constructor(readonly db: Database.Database) {}

  all(sql: string, ...values: unknown[]): Cells[] {
    let statement = this.statements.get(sql);
    if (statement === undefined) {
      statement = this.db.prepare(sql).raw();
      this.statements.set(sql, statement);
    }
    return statement.all(...values) as Cells[];
  }

  /** Names that have rows of a kind, in alphabetical order, with their ids. */
  sensorIds(sensor: string | null): { id: number; key: string }[] {
    const rows = this.all(`SELECT id, text FROM name WHERE instr(text, '/') > 0 ORDER BY text`) as [
      number,
      string,
    ][];
    return rows.filter(([, key]) => sensor === null || key === sensor).map(([id, key]) => ({ id, key }));
  }

  sensors(): { sensor: string; device: string | null; lastReadingAt: number | null }[] {
    return this.sensorIds(null).map(({ id, key }) => {
      const [row] = this.all(
        'SELECT i.to_ms, c.device FROM increment i JOIN chain c ON c.id = i.chain WHERE i.sensor = ? ORDER BY i.to_ms DESC LIMIT 1',
        id,
      );
      return {
        sensor: key,
        device: (row?.[1] as string | undefined) ?? null,
        lastReadingAt: (row?.[0] as number | undefined) ?? null,
      };
    });
  }

  /** The drive message in force of every motor that has one. */
  drives(): DriveRow[] {
    return this.all(
      `SELECT n.text, d.at, d.since, d.state, d.modulating, d.speed_rpm, d.load_pct, d.switching_khz, d.dc_link_v, d.received_at
       FROM name n JOIN drive_message d ON d.motor = n.id AND d.at = (SELECT max(at) FROM drive_message WHERE motor = n.id) ORDER BY n.text`,
    ).map((c) => ({
      motor: c[0] as string,
      at: c[1] as number,
      since: c[2] as number | null,
      state: c[3] as DriveRow['state'],
      modulating: c[4] === 1,
      speedRpm: c[5] as number | null,
      loadPct: c[6] as number | null,
      switchingKhz: c[7] as number | null,
      dcLinkV: c[8] as number | null,
      receivedAt: c[9] as number,
    }));
  }

  lastTransients(): Transient[] {
    return this.all(
      `SELECT n.text, t.from_ms, t.to_ms, t.edges, t.kind, t.counts FROM name n
       JOIN transient t ON t.motor = n.id AND t.from_ms = (SELECT max(from_ms) FROM transient WHERE motor = n.id) ORDER BY n.text`,
    ).map(toTransient);
  }

  /** Ordered by (motor, from). */
  transients(query: PageQuery & { motor: string | null }): Page<Transient> {
    const [motor, from] =
      query.cursor === null ? ['', FIRST] : (fromCursor(query.cursor, 2) as [string, number]);
    const rows = this.all(
      `SELECT n.text, t.from_ms, t.to_ms, t.edges, t.kind, t.counts FROM transient t JOIN name n ON n.id = t.motor
       WHERE t.from_ms < ? AND t.to_ms > ? AND (? IS NULL OR n.text = ?) AND (n.text, t.from_ms) > (?, ?)
       ORDER BY n.text, t.from_ms LIMIT ?`,
      query.to ?? LAST,
      query.from ?? FIRST,
      query.motor,
      query.motor,
      motor,
      from,
      query.limit,
    ).map(toTransient);
    const last = rows[rows.length - 1];
    return {
      items: rows,
      next: rows.length < query.limit || last === undefined ? null : toCursor(last.motor, last.from),
    };
  }

  /** Ordered by (sensor, start). Rollups that hold nothing are left out. */
  rollups(query: PageQuery & { sensor: string | null; period: Period }): Page<RollupRow> {
    const [after, start] =
      query.cursor === null ? ['', FIRST] : (fromCursor(query.cursor, 2) as [string, number]);
    const items: RollupRow[] = [];
    for (const { id, key } of this.sensorIds(query.sensor)) {
      if (key < after) continue;
      const from = Math.max(query.from ?? FIRST, key === after ? start + 1 : FIRST);
      const left = query.limit - items.length;
      const rows =
        query.period === '10s'
          ? this.windows(id, key, from, query.to ?? LAST, left)
          : this.stored(id, key, query.period, from, query.to ?? LAST, left);
      items.push(...rows);
      if (items.length >= query.limit) break;
    }
    const last = items[items.length - 1];
    return {
      items,
      next: items.length < query.limit || last === undefined ? null : toCursor(last.sensor, last.start),
    };
  }

  private stored(
    id: number,
    sensor: string,
    period: '1m' | '10m' | '1h',
    from: number,
    to: number,
    limit: number,
  ): RollupRow[] {
    const columns = SUM_COLUMNS.join(', ');
    const filled = SUM_COLUMNS.map((c) => `${c} <> 0`).join(' OR ');
    const sql = `SELECT start, revision, ${columns} FROM ${TABLES[period]} WHERE sensor = ? AND start >= ? AND start < ? AND (${filled}) ORDER BY start LIMIT ?`;
    return this.all(sql, id, from, to, limit).map((c) => ({
      sensor,
      period,
      start: c[0] as number,
      revision: c[1] as number,
      ...toSums(c as number[], 2),
    }));
  }

  /** The 10 s windows, summed from their increments; those with a pending increment are not final and left out. */
  private windows(id: number, sensor: string, from: number, to: number, limit: number): RollupRow[] {
    const size = PERIOD_MS['10s'];
    const rows = this.all(
      `SELECT to_ms, duration, pulses, class, flags FROM increment WHERE sensor = ? AND to_ms > ? AND to_ms <= ? ORDER BY to_ms LIMIT ?`,
      id,
      Math.max(from, 0),
      Math.min(to, LAST - size),
      limit * 4 + 64,
    ) as [number, number, number, number, number][];
    const whole = rows.length < limit * 4 + 64;
    const found = new Map<number, RollupRow & { pending: boolean }>();
    for (const [at, duration, pulses, cls, flags] of rows) {
      const start = Math.floor((at - 1) / size) * size;
      let row = found.get(start);
      if (row === undefined) {
        row = {
          sensor,
          period: '10s',
          start,
          revision: 0,
          pulses: [0, 0, 0, 0, 0, 0, 0, 0, 0],
          ms: [0, 0, 0, 0, 0, 0, 0, 0, 0],
          uncertainMs: 0,
          pending: false,
        };
        found.set(start, row);
      }
      if (cls === 8) row.pending = true;
      if (cls < 1 || cls > 7) continue;
      const ms = Math.max(0, duration);
      row.pulses[cls]! += pulses;
      row.ms[cls]! += ms;
      if ((flags & Flag.uncertain) !== 0) row.uncertainMs += ms;
    }
    let list = [...found.values()];
    if (!whole) list.pop();
    list = list
      .filter((r) => !r.pending && (r.pulses.some((p) => p !== 0) || r.ms.some((m) => m !== 0)))
      .slice(0, limit);
    for (const row of list) {
      row.revision =
        (this.all(
          'SELECT revision FROM window_revision WHERE sensor = ? AND start = ?',
          id,
          row.start,
        )[0]?.[0] as number | undefined) ?? 0;
    }
    return list.map((row) => ({
      sensor: row.sensor,
      period: row.period,
      start: row.start,
      revision: row.revision,
      pulses: row.pulses,
      ms: row.ms,
      uncertainMs: row.uncertainMs,
    }));
  }

  /** Increments of one sensor or of all, ordered by (sensor, to, device, boot, seq). Anchors and torn readings are part of it, class `none`. */
  *increments(query: {
    sensor: string | null;
    from: number | null;
    to: number | null;
  }): Generator<IncrementRecord[]> {
    const limit = 2000;
    for (const { id, key } of this.sensorIds(query.sensor)) {
      let place: number[] = [Math.max(query.from ?? FIRST, FIRST), FIRST, FIRST];
      let first = true;
      for (;;) {
        const rows = this.all(
          `SELECT i.to_ms, i.chain, i.seq, i.duration, i.count, i.pulses, i.class, i.reason, i.flags, c.device, c.boot
           FROM increment i JOIN chain c ON c.id = i.chain
           WHERE i.sensor = ? AND (i.to_ms, i.chain, i.seq) ${first ? '>=' : '>'} (?, ?, ?) AND i.to_ms < ? ORDER BY i.to_ms, i.chain, i.seq LIMIT ?`,
          id,
          ...place,
          query.to ?? LAST,
          limit,
        );
        first = false;
        if (rows.length > 0) yield rows.map((c) => toRecord(key, c)).sort(compareRecords);
        if (rows.length < limit) break;
        place = rows[rows.length - 1]!.slice(0, 3) as number[];
      }
    }
  }

  alarms(): AlarmRecord[] {
    return this.all('SELECT json FROM alarm ORDER BY id').map(
      (c) => JSON.parse(c[0] as string) as AlarmRecord,
    );
  }

  /** Oldest first. */
  journal(query: PageQuery): Page<JournalEntry> {
    const after = query.cursor === null ? 0 : (fromCursor(query.cursor, 1)[0] as number);
    const rows = this.all(
      `SELECT id, at, detected_at, kind, subject, before, after, who, text, evidence FROM journal
       WHERE id > ? AND at >= ? AND at < ? ORDER BY id LIMIT ?`,
      after,
      query.from ?? FIRST,
      query.to ?? LAST,
      query.limit,
    );
    const items = rows.map((c) => ({
      at: c[1] as number,
      detectedAt: c[2] as number,
      kind: c[3] as JournalEntry['kind'],
      subject: c[4] as string,
      from: c[5] as string,
      to: c[6] as string,
      who: c[7] as string,
      text: c[8] as string,
      evidence: c[9] === null ? null : (JSON.parse(c[9] as string) as Evidence),
    }));
    return { items, next: rows.length < query.limit ? null : toCursor(rows[rows.length - 1]![0] as number) };
  }

  diagnostics(): {
    subject: string;
    kind: string;
    count: number;
    firstAt: number;
    lastAt: number;
    detail: string;
  }[] {
    return this.all(
      'SELECT subject, kind, count, first_at, last_at, detail FROM diagnostic ORDER BY subject, kind',
    ).map((c) => ({
      subject: c[0] as string,
      kind: c[1] as string,
      count: c[2] as number,
      firstAt: c[3] as number,
      lastAt: c[4] as number,
      detail: c[5] as string,
    }));
  }

  /** Oldest first. */
  quarantine(query: PageQuery): Page<{
    at: number;
    client: string;
    topic: string;
    reason: string;
    size: number;
    firstBytes: Uint8Array;
  }> {
    const after = query.cursor === null ? 0 : (fromCursor(query.cursor, 1)[0] as number);
    const rows = this.db
      .prepare(
        'SELECT id, at, client, topic, reason, size, head FROM quarantine WHERE id > ? AND at >= ? AND at < ? ORDER BY id LIMIT ?',
      )
      .raw()
      .all(after, query.from ?? FIRST, query.to ?? LAST, query.limit) as [
      number,
      number,
      string,
      string,
      string,
      number,
      Uint8Array,
    ][];
    const items = rows.map(([, at, client, topic, reason, size, firstBytes]) => ({
      at,
      client,
      topic,
      reason,
      size,
      firstBytes,
    }));
    return { items, next: rows.length < query.limit ? null : toCursor(rows[rows.length - 1]![0]) };
  }

  close(): void {
    this.db.close();
  }
}

function toTransient(c: Cells): Transient {
  const counts = JSON.parse(c[5] as string) as Transient['counts'];
  counts.sort((a, b) => (a.sensor < b.sensor ? -1 : 1));
  return {
    motor: c[0] as string,
    from: c[1] as number,
    to: c[2] as number,
    edges: c[3] as number,
    kind: c[4] as Transient['kind'],
    counts,
  };
}

function toRecord(sensor: string, c: Cells): IncrementRecord {
  const [to, , seq, duration, count, pulses, cls, reason, flags] = c as number[];
  return {
    sensor,
    from: to! - duration!,
    to: to!,
    device: c[9] as string,
    boot: c[10] as number | null,
    seq: seq === -1 ? null : seq!,
    count: count!,
    pulses: pulses!,
    ms: Math.max(0, duration!),
    class: CLASS_NAMES[cls!] ?? 'none',
    reason: REASON_NAMES[reason!] ?? '',
    quality: (flags! & Flag.uncertain) !== 0 ? 'uncertain' : 'good',
  };
}

function compareRecords(a: IncrementRecord, b: IncrementRecord): number {
  return (
    a.to - b.to ||
    (a.device < b.device ? -1 : a.device > b.device ? 1 : 0) ||
    (a.boot ?? -1) - (b.boot ?? -1) ||
    (a.seq ?? -1) - (b.seq ?? -1)
  );
}

/** Opens a store for reading, a running gateway's too. Throws StoreError when there is none or it is of another schema. */
export function openReader(dir: string): ReadStore {
  const file = join(dir, FILE_NAME);
  if (!existsSync(file))
    throw new StoreError(
      'missing',
      `there is no database in ${dir}`,
      'name the folder that the gateway writes to (--data)',
      false,
    );
  const db = new Database(file, { readonly: true });
  const version = db.pragma('user_version', { simple: true }) as number;
  if (version !== SCHEMA_VERSION) {
    db.close();
    throw new StoreError(
      'newer-schema',
      `the database in ${dir} has schema ${version}, this program reads ${SCHEMA_VERSION}`,
      'use the program that wrote it, or let this one migrate it by running it once',
      false,
    );
  }
  return new ReadStore(db);
}

export type { Sums };
