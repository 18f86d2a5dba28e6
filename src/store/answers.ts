/** Answers the core's needs from the writer's own connection: what the open transaction wrote is seen too. */
import type { Answer, Need } from '../core/needs.js';
import type { Burst, DriveRow, Increment, PresenceRow, Segment, Transient, Vote } from '../core/rows.js';
import { findNeighbours } from './neighbours.js';
import type { ChainParts } from './chain-parts.js';
import type { NameTable } from './names.js';
import {
  DRIVE_COLUMNS,
  INCREMENT_COLUMNS,
  SEGMENT_COLUMNS,
  toDrive,
  toIncrement,
  toSegment,
  toTransient,
  TRANSIENT_COLUMNS,
} from './row-shapes.js';
import type { Cells, Statements } from './statements.js';
import type { ZoneReach } from './zone-reach.js';

export class Answers {
  constructor(
    readonly statements: Statements,
    readonly names: NameTable,
    private readonly parts: ChainParts,
    private readonly reach: ZoneReach,
  ) {}

  answer(need: Need): Answer {
    const { increments, neighbours, drives, zone, segments, transients } = need;
    return {
      need,
      increments:
        increments === null ? [] : this.increments(increments.sensor, increments.fromTo, increments.toTo),
      neighbours:
        neighbours === null ? [] : findNeighbours(this.statements, this.parts, this.names, neighbours),
      ...this.#drivesOf(drives),
      bursts: zone === null ? [] : this.bursts(zone.zone, zone.from, zone.to),
      votes: zone === null ? [] : this.votes(zone.zone, zone.from, zone.to),
      segments: segments === null ? [] : this.segmentsOf(segments.chain),
      transients:
        transients === null ? [] : this.transients(transients.motor, transients.from, transients.to),
    };
  }

  /** Those with `fromTo <= to < toTo`, ordered by (to, chain, seq). */
  increments(sensor: string, fromTo: number, toTo: number): Increment[] {
    return this.statements
      .all(
        `SELECT ${INCREMENT_COLUMNS} FROM increment WHERE sensor = ? AND to_ms >= ? AND to_ms < ? ORDER BY to_ms, chain, seq`,
        this.names.find(sensor),
        fromTo,
        toTo,
      )
      .map((cells) => toIncrement(sensor, cells, this.names));
  }

  #drivesOf(ask: Need['drives']): Pick<Answer, 'drives' | 'presences'> {
    const found: Pick<Answer, 'drives' | 'presences'> = { drives: [], presences: [] };
    for (const motor of ask?.motors ?? []) {
      const { from, to, lookBackMs } = ask!;
      const drives = this.drives(motor, from, to, lookBackMs);
      found.drives.push(...drives);
      found.presences.push(...this.presences(motor, Math.min(from, drives[0]?.at ?? from), to));
    }
    return found;
  }

  /** Those with `from <= at < to`, the last before, and what came up to `lookBackMs` before that one; in order. */
  drives(motor: string, from: number, to: number, lookBackMs = 0): DriveRow[] {
    return this.#around('drive_message', DRIVE_COLUMNS, motor, from, to, lookBackMs).map((cells) =>
      toDrive(motor, cells),
    );
  }

  /** Those with `from <= at < to`, and the last before; in order. */
  presences(motor: string, from: number, to: number): PresenceRow[] {
    return this.#around('drive_presence', 'at, online', motor, from, to, 0).map((cells) => ({
      motor,
      at: cells[0] as number,
      online: cells[1] === 1,
    }));
  }

  #around(
    table: string,
    columns: string,
    motor: string,
    from: number,
    to: number,
    lookBackMs: number,
  ): Cells[] {
    const id = this.names.find(motor);
    return this.statements.all(
      `SELECT ${columns} FROM ${table} WHERE motor = ?
       AND at >= coalesce((SELECT max(at) FROM ${table} WHERE motor = ? AND at < ?) - ?, ?) AND at < ? ORDER BY at`,
      id,
      id,
      from,
      lookBackMs,
      from,
      to,
    );
  }

  /** Those that overlap [from, to). */
  bursts(zone: string, from: number, to: number): Burst[] {
    const id = this.names.find(zone);
    return this.statements
      .all(
        `SELECT motor, sensor, window, from_ms, to_ms FROM burst
         WHERE zone = ? AND to_ms > ? AND to_ms <= ? AND from_ms < ? ORDER BY to_ms, sensor, from_ms`,
        id,
        from,
        to + this.reach.longest('burst', id),
        to,
      )
      .map((cells) => ({
        zone,
        motor: this.names.text(cells[0] as number),
        sensor: this.names.text(cells[1] as number),
        window: cells[2] as number,
        from: cells[3] as number,
        to: cells[4] as number,
      }));
  }

  /** Those that overlap [from, to), ordered by `from`. */
  votes(zone: string, from: number, to: number): Vote[] {
    const id = this.names.find(zone);
    return this.statements
      .all(
        `SELECT motor, sensor, from_ms, to_ms FROM vote
         WHERE zone = ? AND to_ms > ? AND to_ms <= ? AND from_ms < ? ORDER BY from_ms, sensor`,
        id,
        from,
        to + this.reach.longest('vote', id),
        to,
      )
      .map((cells) => ({
        zone,
        motor: this.names.text(cells[0] as number),
        sensor: this.names.text(cells[1] as number),
        from: cells[2] as number,
        to: cells[3] as number,
      }));
  }

  segmentsOf(chain: number): Segment[] {
    return this.#segments('chain = ?', chain);
  }

  segmentsOfSensor(sensor: string): Segment[] {
    return this.#segments('sensor = ?', this.names.find(sensor));
  }

  #segments(where: string, value: number): Segment[] {
    return this.statements
      .all(`SELECT ${SEGMENT_COLUMNS} FROM segment WHERE ${where} ORDER BY chain, start_to, start_seq`, value)
      .map((cells) => toSegment(this.names.text(cells[0] as number), cells));
  }

  /** Those that overlap [from, to), in order. A motor's transients never overlap one another. */
  transients(motor: string, from: number, to: number): Transient[] {
    const id = this.names.find(motor);
    return this.statements
      .all(
        `SELECT ${TRANSIENT_COLUMNS} FROM transient WHERE motor = ?
         AND from_ms >= coalesce((SELECT max(from_ms) FROM transient WHERE motor = ? AND from_ms <= ?), ?)
         AND from_ms < ? AND to_ms > ? ORDER BY from_ms`,
        id,
        id,
        from,
        from,
        to,
        from,
      )
      .map((cells) => toTransient(motor, cells));
  }
}
