/**
 * Answers the core's needs, and gives back its state at start, from the writer's own connection: what was written in the
 * open transaction is seen too.
 */
import type Database from 'better-sqlite3';
import type { Answer, Need, Restored } from '../core/needs.js';
import type { Plan } from '../core/plan.js';
import type {
  AlarmRecord,
  Burst,
  Chain,
  DriveRow,
  Increment,
  PresenceRow,
  Segment,
  Spread,
  Transient,
  Vote,
} from '../core/rows.js';
import type { Class, Reason } from '../core/words.js';
import type { NameTable } from './names.js';

type Cells = (number | string | null)[];

const INCREMENT = 'to_ms, chain, seq, duration, count, up_ms, pulses, class, reason, flags';
const NEIGHBOURS = 4;
const KEPT_ROWS = 80;

export class StoreReader {
  private readonly statements = new Map<string, Database.Statement>();

  constructor(
    private readonly db: Database.Database,
    private readonly names: NameTable,
  ) {}

  private all(sql: string, ...values: unknown[]): Cells[] {
    let statement = this.statements.get(sql);
    if (statement === undefined) {
      statement = this.db.prepare(sql).raw();
      this.statements.set(sql, statement);
    }
    return statement.all(...values) as Cells[];
  }

  answer(need: Need): Answer {
    const { increments, neighbours, drives, zone, segments, transients } = need;
    return {
      need,
      increments:
        increments === null ? [] : this.increments(increments.sensor, increments.fromTo, increments.toTo),
      neighbours: neighbours === null ? [] : this.neighbours(neighbours),
      drives:
        drives === null ? [] : drives.motors.flatMap((motor) => this.drives(motor, drives.from, drives.to)),
      presences:
        drives === null
          ? []
          : drives.motors.flatMap((motor) => this.presences(motor, drives.from, drives.to)),
      bursts: zone === null ? [] : this.bursts(zone.zone, zone.from, zone.to),
      votes: zone === null ? [] : this.votes(zone.zone, zone.from, zone.to),
      segments: segments === null ? [] : this.segments('chain = ?', segments.chain),
      transients:
        transients === null ? [] : this.transients(transients.motor, transients.from, transients.to),
    };
  }

  private toIncrement(sensor: string, c: Cells): Increment {
    const [to, chain, seq, duration, count, upMs, pulses, cls, reason, flags] = c as number[];
    return {
      sensor,
      to: to!,
      from: to! - duration!,
      chain: chain!,
      seq: seq === -1 ? null : seq!,
      count: count!,
      upMs: upMs ?? null,
      pulses: pulses!,
      class: cls as Class,
      reason: reason as Reason,
      flags: flags!,
      stored: true,
    };
  }

  private increments(sensor: string, fromTo: number, toTo: number): Increment[] {
    return this.all(
      `SELECT ${INCREMENT} FROM increment WHERE sensor = ? AND to_ms >= ? AND to_ms < ? ORDER BY to_ms, chain, seq`,
      this.names.find(sensor),
      Math.ceil(fromTo),
      Math.ceil(toTo),
    ).map((c) => this.toIncrement(sensor, c));
  }

  private neighbours(ask: NonNullable<Need['neighbours']>): Increment[] {
    const key = ask.bySeq ? 'seq' : 'to_ms';
    const place = ask.bySeq ? 'seq' : 'to_ms, seq';
    const back = ask.bySeq ? 'seq DESC' : 'to_ms DESC, seq DESC';
    const where = `sensor = ${this.names.find(ask.sensor)} AND chain = ${ask.chain}`;
    const before = this.all(
      `SELECT ${INCREMENT} FROM increment WHERE ${where} AND ${key} < ? ORDER BY ${back} LIMIT ${NEIGHBOURS}`,
      ask.least,
    ).reverse();
    const inside = this.all(
      `SELECT ${INCREMENT} FROM increment WHERE ${where} AND ${key} BETWEEN ? AND ? ORDER BY ${place}`,
      ask.least,
      ask.most,
    );
    const after = this.all(
      `SELECT ${INCREMENT} FROM increment WHERE ${where} AND ${key} > ? ORDER BY ${place} LIMIT ${NEIGHBOURS}`,
      ask.most,
    );
    return [...before, ...inside, ...after].map((c) => this.toIncrement(ask.sensor, c));
  }

  private drives(motor: string, from: number, to: number): DriveRow[] {
    const columns =
      'at, since, state, modulating, speed_rpm, load_pct, switching_khz, dc_link_v, received_at';
    const id = this.names.find(motor);
    const before = this.all(
      `SELECT ${columns} FROM drive_message WHERE motor = ? AND at < ? ORDER BY at DESC LIMIT 1`,
      id,
      from,
    );
    const inside = this.all(
      `SELECT ${columns} FROM drive_message WHERE motor = ? AND at >= ? AND at < ? ORDER BY at`,
      id,
      from,
      to,
    );
    return [...before, ...inside].map((c) => ({
      motor,
      at: c[0] as number,
      since: c[1] as number | null,
      state: c[2] as DriveRow['state'],
      modulating: c[3] === 1,
      speedRpm: c[4] as number | null,
      loadPct: c[5] as number | null,
      switchingKhz: c[6] as number | null,
      dcLinkV: c[7] as number | null,
      receivedAt: c[8] as number,
    }));
  }

  private presences(motor: string, from: number, to: number): PresenceRow[] {
    const id = this.names.find(motor);
    const before = this.all(
      'SELECT at, online FROM drive_presence WHERE motor = ? AND at < ? ORDER BY at DESC LIMIT 1',
      id,
      from,
    );
    const inside = this.all(
      'SELECT at, online FROM drive_presence WHERE motor = ? AND at >= ? AND at < ? ORDER BY at',
      id,
      from,
      to,
    );
    return [...before, ...inside].map((c) => ({ motor, at: c[0] as number, online: c[1] === 1 }));
  }

  private bursts(zone: string, from: number, to: number): Burst[] {
    return this.all(
      'SELECT motor, sensor, window, from_ms, to_ms FROM burst WHERE zone = ? AND to_ms > ? AND from_ms < ?',
      zone,
      from,
      to,
    ).map((c) => ({
      zone,
      motor: this.names.text(c[0] as number),
      sensor: this.names.text(c[1] as number),
      window: c[2] as number,
      from: c[3] as number,
      to: c[4] as number,
    }));
  }

  private votes(zone: string, from: number, to: number): Vote[] {
    return this.all(
      'SELECT motor, sensor, from_ms, to_ms FROM vote WHERE zone = ? AND to_ms > ? AND from_ms < ? ORDER BY from_ms',
      zone,
      from,
      to,
    ).map((c) => ({
      zone,
      motor: this.names.text(c[0] as number),
      sensor: this.names.text(c[1] as number),
      from: c[2] as number,
      to: c[3] as number,
    }));
  }

  private segments(where: string, ...values: unknown[]): Segment[] {
    return this.all(
      `SELECT sensor, chain, start_to, start_seq, first_count, last_to, last_seq, last_count, wraps, modulus, opened_by,
       unknown_reason, unknown_from, unknown_to, unknown_low, unknown_high FROM segment WHERE ${where} ORDER BY chain, start_to, start_seq`,
      ...values,
    ).map((c) => ({
      sensor: this.names.text(c[0] as number),
      chain: c[1] as number,
      startTo: c[2] as number,
      startSeq: c[3] as number,
      firstCount: c[4] as number,
      lastTo: c[5] as number,
      lastSeq: c[6] as number,
      lastCount: c[7] as number,
      wraps: c[8] as number,
      modulus: c[9] as number,
      openedBy: c[10] as Segment['openedBy'],
      unknownReason: c[11] as string,
      unknownFrom: c[12] as number,
      unknownTo: c[13] as number,
      unknownLow: c[14] as number,
      unknownHigh: c[15] as number | null,
    }));
  }

  private transients(motor: string, from: number, to: number): Transient[] {
    return this.all(
      'SELECT from_ms, to_ms, edges, kind, counts FROM transient WHERE motor = ? AND from_ms < ? AND to_ms > ? ORDER BY from_ms',
      this.names.find(motor),
      to,
      from,
    ).map((c) => ({
      motor,
      from: c[0] as number,
      to: c[1] as number,
      edges: c[2] as number,
      kind: c[3] as Transient['kind'],
      counts: JSON.parse(c[4] as string) as Transient['counts'],
    }));
  }

  /** See `Restored`. */
  restore(plan: Plan, reachMs: number): Restored {
    const restored: Restored = {
      checkpoints: this.all('SELECT key, version, json FROM checkpoint').map((c) => ({
        key: c[0] as string,
        version: c[1] as number,
        json: c[2] as string,
      })),
      chains: [],
      segments: [],
      increments: new Map(),
      drives: new Map(),
      presences: new Map(),
      bursts: [],
      votes: [],
      spreads: [],
      transients: [],
      alarms: this.all('SELECT json FROM alarm').map((c) => JSON.parse(c[0] as string) as AlarmRecord),
    };
    const zones = new Map<string, number>();
    for (const sensor of plan.sensors.keys()) {
      const newest = this.restoreSensor(plan, restored, sensor, reachMs);
      const zone = plan.motors.get(plan.sensors.get(sensor)!.motor)!.zone;
      if (newest !== null) zones.set(zone, Math.max(zones.get(zone) ?? 0, newest));
    }
    for (const motor of plan.motors.keys()) {
      const last = this.all(
        'SELECT max(at) FROM drive_message WHERE motor = ?',
        this.names.find(motor),
      )[0]![0] as number | null;
      if (last === null) continue;
      restored.drives.set(motor, this.drives(motor, last - reachMs, Number.MAX_SAFE_INTEGER));
      restored.presences.set(motor, this.presences(motor, last - reachMs, Number.MAX_SAFE_INTEGER));
    }
    for (const [zone, newest] of zones) {
      restored.bursts.push(...this.bursts(zone, newest - 2 * reachMs, Number.MAX_SAFE_INTEGER));
      restored.votes.push(...this.votes(zone, newest - 2 * reachMs, Number.MAX_SAFE_INTEGER));
    }
    return restored;
  }

  private restoreSensor(plan: Plan, restored: Restored, sensor: string, reachMs: number): number | null {
    const id = this.names.find(sensor);
    const newest = this.all('SELECT max(to_ms) FROM increment WHERE sensor = ?', id)[0]![0] as number | null;
    if (newest === null) return null;
    const oldest = newest - plan.reviseHorizonMs - 86_400_000;
    const segments = this.segments('sensor = ?', id);
    const live = new Set(segments.filter((s) => s.lastTo >= oldest).map((s) => s.chain));
    restored.segments.push(...segments.filter((s) => live.has(s.chain)));
    for (const c of this.all('SELECT id, device, boot FROM chain WHERE sensor = ? ORDER BY id', id)) {
      if (live.has(c[0] as number))
        restored.chains.push({
          id: c[0] as number,
          sensor,
          device: c[1] as string,
          boot: c[2] as number | null,
        } satisfies Chain);
    }
    const eighty = this.all(
      `SELECT to_ms FROM increment WHERE sensor = ? ORDER BY to_ms DESC LIMIT 1 OFFSET ${KEPT_ROWS}`,
      id,
    )[0]?.[0] as number | undefined;
    restored.increments.set(
      sensor,
      this.increments(sensor, Math.min(newest - reachMs, eighty ?? newest), Number.MAX_SAFE_INTEGER),
    );
    for (const c of this.all(
      'SELECT hour, pulses, ms, q0, q1, q2, q3, k0, k1, k2, k3 FROM spread WHERE sensor = ? ORDER BY hour DESC LIMIT 96',
      id,
    ).reverse()) {
      const [hour, pulses, ms, q0, q1, q2, q3, k0, k1, k2, k3] = c as number[];
      restored.spreads.push({
        sensor,
        hour: hour!,
        pulses: pulses!,
        ms: ms!,
        q: [q0!, q1!, q2!, q3!],
        k: [k0!, k1!, k2!, k3!],
      } satisfies Spread);
    }
    return newest;
  }
}
