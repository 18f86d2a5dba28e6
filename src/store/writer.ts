/**
 * Writes outputs: one prepared statement per table, all inside the transaction that the engine opened. The rows of a step
 * go in the order of the fields of `Outputs`.
 */
import type Database from 'better-sqlite3';
import type { Outputs, RollupAdd, Sums } from '../core/rows.js';
import type { NameTable } from './names.js';
import { SUM_COLUMNS } from './schema.js';

/** A rollup as it stands after an addition. */
export interface RollupRow extends Sums {
  sensor: string;
  period: '10s' | '1m' | '10m' | '1h';
  start: number;
  revision: number;
}

export interface Applied {
  rollups: RollupRow[];
}

const TABLES = { '1m': 'rollup_1m', '10m': 'rollup_10m', '1h': 'rollup_1h' } as const;
const WINDOW_MS = 10_000;

/** Sums from the 15 columns of a rollup. */
export function toSums(row: readonly number[], offset: number): Sums {
  return {
    pulses: [0, ...row.slice(offset, offset + 7), 0],
    ms: [0, ...row.slice(offset + 7, offset + 14), 0],
    uncertainMs: row[offset + 14]!,
  };
}

function upsertRollup(db: Database.Database, table: string): Database.Statement {
  const columns = SUM_COLUMNS.join(', ');
  const adds = SUM_COLUMNS.map((c) => `${c} = ${c} + excluded.${c}`).join(', ');
  return db
    .prepare(
      `INSERT INTO ${table} (sensor, start, revision, ${columns}) VALUES (?, ?, 0, ${SUM_COLUMNS.map(() => '?').join(', ')})
       ON CONFLICT DO UPDATE SET revision = revision + 1, ${adds} RETURNING revision, ${columns}`,
    )
    .raw();
}

export class OutputWriter {
  private readonly statements = new Map<string, Database.Statement>();
  private readonly rollups: Record<RollupAdd['period'], Database.Statement>;

  constructor(
    private readonly db: Database.Database,
    private readonly names: NameTable,
    private readonly onStatement: () => void,
  ) {
    this.rollups = {
      '1m': upsertRollup(db, TABLES['1m']),
      '10m': upsertRollup(db, TABLES['10m']),
      '1h': upsertRollup(db, TABLES['1h']),
    };
  }

  private run(sql: string, ...values: unknown[]): void {
    let statement = this.statements.get(sql);
    if (statement === undefined) {
      statement = this.db.prepare(sql);
      this.statements.set(sql, statement);
    }
    this.onStatement();
    statement.run(...values);
  }

  apply(out: Outputs): Applied {
    for (const c of out.chains) {
      this.run(
        'INSERT OR REPLACE INTO chain VALUES (?, ?, ?, ?)',
        c.id,
        this.names.id(c.sensor),
        c.device,
        c.boot,
      );
    }
    this.applyIncrements(out);
    this.applySegments(out);
    this.applyDrives(out);
    const applied = { rollups: [...this.applyRollups(out), ...this.applyRevisedWindows(out)] };
    this.applySpreads(out);
    this.applyTransients(out);
    this.applyZone(out);
    this.applyAlarms(out);
    return applied;
  }

  private applyIncrements(out: Outputs): void {
    for (const r of out.removedIncrements) {
      this.run(
        'DELETE FROM increment WHERE sensor = ? AND to_ms = ? AND chain = ? AND seq = ?',
        this.names.id(r.sensor),
        r.to,
        r.chain,
        r.seq ?? -1,
      );
    }
    for (const r of out.increments) {
      const sensor = this.names.id(r.sensor);
      if (r.stored) {
        this.run(
          'UPDATE increment SET duration = ?, count = ?, pulses = ?, class = ?, reason = ?, flags = ? WHERE sensor = ? AND to_ms = ? AND chain = ? AND seq = ?',
          r.to - r.from,
          r.count,
          r.pulses,
          r.class,
          r.reason,
          r.flags,
          sensor,
          r.to,
          r.chain,
          r.seq ?? -1,
        );
      } else {
        this.run(
          'INSERT INTO increment VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
          sensor,
          r.to,
          r.chain,
          r.seq ?? -1,
          r.to - r.from,
          r.count,
          r.upMs,
          r.pulses,
          r.class,
          r.reason,
          r.flags,
        );
        r.stored = true;
      }
    }
  }

  private applySegments(out: Outputs): void {
    for (const s of out.removedSegments) {
      this.run(
        'DELETE FROM segment WHERE chain = ? AND start_to = ? AND start_seq = ?',
        s.chain,
        s.startTo,
        s.startSeq,
      );
    }
    for (const s of out.segments) {
      this.run(
        'INSERT OR REPLACE INTO segment VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
        this.names.id(s.sensor),
        s.chain,
        s.startTo,
        s.startSeq,
        s.firstCount,
        s.lastTo,
        s.lastSeq,
        s.lastCount,
        s.wraps,
        s.modulus,
        s.openedBy,
        s.unknownReason,
        s.unknownFrom,
        s.unknownTo,
        s.unknownLow,
        s.unknownHigh,
      );
    }
  }

  private applyDrives(out: Outputs): void {
    for (const d of out.drives) {
      this.run(
        'INSERT OR REPLACE INTO drive_message VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
        this.names.id(d.motor),
        d.at,
        d.since,
        d.state,
        d.modulating ? 1 : 0,
        d.speedRpm,
        d.loadPct,
        d.switchingKhz,
        d.dcLinkV,
        d.receivedAt,
      );
    }
    for (const p of out.presences) {
      this.run(
        'INSERT OR REPLACE INTO drive_presence VALUES (?, ?, ?)',
        this.names.id(p.motor),
        p.at,
        p.online ? 1 : 0,
      );
    }
  }

  private applyRollups(out: Outputs): RollupRow[] {
    return out.rollups.map((r) => {
      this.onStatement();
      const row = this.rollups[r.period].get(
        this.names.id(r.sensor),
        r.start,
        ...r.pulses.slice(1, 8),
        ...r.ms.slice(1, 8),
        r.uncertainMs,
      ) as number[];
      return { sensor: r.sensor, period: r.period, start: r.start, revision: row[0]!, ...toSums(row, 1) };
    });
  }

  private applyRevisedWindows(out: Outputs): RollupRow[] {
    if (out.windowsRevised.length === 0) return [];
    const unique = new Map(out.windowsRevised.map((w) => [`${w.sensor}/${w.start}`, w]));
    return [...unique.values()].map((w) => {
      const sensor = this.names.id(w.sensor);
      this.run(
        'INSERT INTO window_revision VALUES (?, ?, 1) ON CONFLICT DO UPDATE SET revision = revision + 1',
        sensor,
        w.start,
      );
      const sums: Sums = {
        pulses: [0, 0, 0, 0, 0, 0, 0, 0, 0],
        ms: [0, 0, 0, 0, 0, 0, 0, 0, 0],
        uncertainMs: 0,
      };
      const rows = this.db
        .prepare(
          'SELECT class, pulses, duration, flags FROM increment WHERE sensor = ? AND to_ms > ? AND to_ms <= ?',
        )
        .raw()
        .all(sensor, w.start, w.start + WINDOW_MS) as [number, number, number, number][];
      for (const [cls, pulses, duration, flags] of rows) {
        if (cls < 1 || cls > 7) continue;
        const ms = Math.max(0, duration);
        sums.pulses[cls]! += pulses;
        sums.ms[cls]! += ms;
        if ((flags & 16) !== 0) sums.uncertainMs += ms;
      }
      const revision = this.db
        .prepare('SELECT revision FROM window_revision WHERE sensor = ? AND start = ?')
        .pluck()
        .get(sensor, w.start) as number;
      return { sensor: w.sensor, period: '10s', start: w.start, revision, ...sums };
    });
  }

  private applySpreads(out: Outputs): void {
    for (const s of out.spreads) {
      this.run(
        'INSERT OR REPLACE INTO spread VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
        this.names.id(s.sensor),
        s.hour,
        s.pulses,
        s.ms,
        ...s.q,
        ...s.k,
      );
    }
  }

  private applyTransients(out: Outputs): void {
    for (const t of out.removedTransients) {
      this.run('DELETE FROM transient WHERE motor = ? AND from_ms = ?', this.names.id(t.motor), t.from);
    }
    for (const t of out.transients) {
      this.run(
        `INSERT INTO transient VALUES (?, ?, ?, ?, ?, ?, 0) ON CONFLICT DO UPDATE SET to_ms = excluded.to_ms,
         edges = excluded.edges, kind = excluded.kind, counts = excluded.counts, revision = revision + 1`,
        this.names.id(t.motor),
        t.from,
        t.to,
        t.edges,
        t.kind,
        JSON.stringify(t.counts),
      );
    }
  }

  private applyZone(out: Outputs): void {
    for (const b of out.removedBursts) {
      this.run(
        'DELETE FROM burst WHERE sensor = ? AND from_ms = ? AND to_ms = ?',
        this.names.id(b.sensor),
        b.from,
        b.to,
      );
    }
    for (const b of out.bursts) {
      this.run(
        'INSERT OR REPLACE INTO burst VALUES (?, ?, ?, ?, ?, ?)',
        b.zone,
        this.names.id(b.motor),
        this.names.id(b.sensor),
        b.window,
        b.from,
        b.to,
      );
    }
    for (const v of out.removedVotes)
      this.run('DELETE FROM vote WHERE sensor = ? AND from_ms = ?', this.names.id(v.sensor), v.from);
    for (const v of out.votes) {
      this.run(
        'INSERT OR REPLACE INTO vote VALUES (?, ?, ?, ?, ?)',
        v.zone,
        this.names.id(v.motor),
        this.names.id(v.sensor),
        v.from,
        v.to,
      );
    }
  }

  private applyAlarms(out: Outputs): void {
    for (const a of out.alarms)
      this.run('INSERT OR REPLACE INTO alarm VALUES (?, ?)', a.id, JSON.stringify(a));
    for (const j of out.journal) {
      this.run(
        'INSERT INTO journal (at, detected_at, kind, subject, before, after, who, text, evidence) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)',
        j.at,
        j.detectedAt,
        j.kind,
        j.subject,
        j.from,
        j.to,
        j.who,
        j.text,
        j.evidence === null ? null : JSON.stringify(j.evidence),
      );
    }
    for (const d of out.diagnostics) {
      this.run(
        `INSERT INTO diagnostic VALUES (?, ?, 1, ?, ?, ?) ON CONFLICT DO UPDATE SET count = count + 1, last_at = excluded.last_at, detail = excluded.detail`,
        d.subject,
        d.kind,
        d.at,
        d.at,
        d.detail,
      );
    }
    for (const c of out.checkpoints)
      this.run('INSERT OR REPLACE INTO checkpoint VALUES (?, ?, ?)', c.key, c.version, c.json);
  }
}
