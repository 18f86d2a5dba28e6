/** Writes what concerns a motor or a zone: drive messages, presences, transients, bursts, votes. */
import type { Outputs } from '../core/rows.js';
import type { NameTable } from './names.js';
import type { Prepared, Statements } from './statements.js';
import type { ZoneReach } from './zone-reach.js';

export class MotorWriter {
  readonly #putDrive: Prepared;
  readonly #putPresence: Prepared;
  readonly #putTransient: Prepared;
  readonly #removeTransient: Prepared;
  readonly #putBurst: Prepared;
  readonly #removeBurst: Prepared;
  readonly #putVote: Prepared;
  readonly #removeVote: Prepared;

  constructor(
    private readonly names: NameTable,
    private readonly reach: ZoneReach,
    statements: Statements,
  ) {
    this.#putDrive = statements.prepare(
      'INSERT OR REPLACE INTO drive_message VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)',
    );
    this.#putPresence = statements.prepare('INSERT OR REPLACE INTO drive_presence VALUES (?, ?, ?)');
    this.#putTransient = statements.prepare(
      `INSERT INTO transient VALUES (?, ?, ?, ?, ?, ?, 0) ON CONFLICT DO UPDATE SET to_ms = excluded.to_ms,
       edges = excluded.edges, kind = excluded.kind, counts = excluded.counts, revision = revision + 1`,
    );
    this.#removeTransient = statements.prepare('DELETE FROM transient WHERE motor = ? AND from_ms = ?');
    this.#putBurst = statements.prepare('INSERT OR REPLACE INTO burst VALUES (?, ?, ?, ?, ?, ?)');
    this.#removeBurst = statements.prepare(
      'DELETE FROM burst WHERE sensor = ? AND from_ms = ? AND to_ms = ?',
    );
    this.#putVote = statements.prepare('INSERT OR REPLACE INTO vote VALUES (?, ?, ?, ?, ?)');
    this.#removeVote = statements.prepare('DELETE FROM vote WHERE sensor = ? AND from_ms = ?');
  }

  writeDrives(out: Outputs): void {
    for (const d of out.drives) {
      this.#putDrive.run(
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
    for (const p of out.presences) this.#putPresence.run(this.names.id(p.motor), p.at, p.online ? 1 : 0);
  }

  writeTransients(out: Outputs): void {
    for (const t of out.removedTransients) this.#removeTransient.run(this.names.id(t.motor), t.from);
    for (const t of out.transients) {
      const counts = JSON.stringify(t.counts);
      this.#putTransient.run(this.names.id(t.motor), t.from, t.to, t.edges, t.kind, counts);
    }
  }

  writeZones(out: Outputs): void {
    for (const b of out.removedBursts) this.#removeBurst.run(this.names.id(b.sensor), b.from, b.to);
    for (const b of out.bursts) {
      const zone = this.names.id(b.zone);
      this.reach.note('burst', zone, b.to - b.from);
      this.#putBurst.run(zone, this.names.id(b.motor), this.names.id(b.sensor), b.window, b.from, b.to);
    }
    for (const v of out.removedVotes) this.#removeVote.run(this.names.id(v.sensor), v.from);
    for (const v of out.votes) {
      const zone = this.names.id(v.zone);
      this.reach.note('vote', zone, v.to - v.from);
      this.#putVote.run(zone, this.names.id(v.motor), this.names.id(v.sensor), v.from, v.to);
    }
  }
}
