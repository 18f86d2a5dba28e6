/**
 * The store in memory, for tests and benches of the core: it writes outputs and answers needs as the real one does.
 */
import { LOOK_BACK_MS } from '../../src/core/bin.js';
import { addToBins } from '../../src/core/bin-sums.js';
import type { Fact } from '../../src/core/facts.js';
import type { Finding, MaintenanceAction } from '../../src/core/maintenance-rows.js';
import type { Answer, Need, Restored } from '../../src/core/needs.js';
import type { Minute } from '../../src/core/periods.js';
import type { Plan } from '../../src/core/plan.js';
import type { AlarmRecord, JournalEntry } from '../../src/core/alarm-rows.js';
import type {
  Burst,
  Chain,
  DriveRow,
  Increment,
  Outputs,
  PresenceRow,
  RollupAdd,
  Segment,
  Spread,
  Transient,
  Vote,
} from '../../src/core/rows.js';
import { Class } from '../../src/core/words.js';
import { placeIn, RowsByMotor } from './rows-by-motor.js';
import { openState, RESTORE_REACH_MS, step, type CoreState } from '../../src/core/step.js';

function compareRows(
  a: Pick<Increment, 'to' | 'chain' | 'seq'>,
  b: Pick<Increment, 'to' | 'chain' | 'seq'>,
): number {
  return a.to - b.to || a.chain - b.chain || (a.seq ?? -1) - (b.seq ?? -1);
}

/** In the order in which the core holds them. */
function compareSpreads(a: Spread, b: Spread): number {
  return a.hour - b.hour || (a.bin < b.bin ? -1 : 1);
}

export class MemoryStore {
  /** per sensor, ordered by (to, chain, seq) */
  increments = new Map<string, Increment[]>();
  chains = new Map<number, Chain>();
  segments = new Map<string, Segment>();
  drives = new Map<string, DriveRow>();
  presences = new Map<string, PresenceRow>();
  private readonly drivesOf = new RowsByMotor<DriveRow>();
  private readonly presencesOf = new RowsByMotor<PresenceRow>();
  rollups = new Map<string, RollupAdd & { revision: number }>();
  spreads = new Map<string, Spread>();
  transients = new Map<string, Transient>();
  bursts = new Map<string, Burst>();
  votes = new Map<string, Vote>();
  alarms = new Map<string, AlarmRecord>();
  actions = new Map<number, MaintenanceAction>();
  findings = new Map<number, Finding>();
  journal: JournalEntry[] = [];
  diagnostics = new Map<string, number>();
  /** last of each kind */
  details = new Map<string, string>();
  checkpoints = new Map<string, { key: string; version: number; json: string }>();

  apply(out: Outputs): void {
    for (const chain of out.chains) this.chains.set(chain.id, { ...chain });
    for (const row of out.removedIncrements) this.removeIncrement(row);
    for (const row of out.increments) this.putIncrement(row);
    for (const s of out.removedSegments) this.segments.delete(`${s.chain}/${s.startTo}/${s.startSeq}`);
    for (const s of out.segments) this.segments.set(`${s.chain}/${s.startTo}/${s.startSeq}`, { ...s });
    for (const d of out.drives) this.drives.set(`${d.motor}/${d.at}`, { ...d });
    for (const p of out.presences) this.presences.set(`${p.motor}/${p.at}`, { ...p });
    out.drives.forEach((drive) => this.drivesOf.put(drive));
    out.presences.forEach((presence) => this.presencesOf.put(presence));
    for (const r of out.rollups) this.addRollup(r);
    for (const s of out.removedSpreads) this.removeSpreads(s);
    for (const s of out.spreads) this.spreads.set(`${s.sensor}/${s.hour}/${s.bin}`, structuredClone(s));
    for (const t of out.removedTransients) this.transients.delete(`${t.motor}/${t.from}`);
    for (const t of out.transients) this.transients.set(`${t.motor}/${t.from}`, structuredClone(t));
    for (const b of out.removedBursts) this.bursts.delete(`${b.sensor}/${b.from}/${b.to}`);
    for (const b of out.bursts) this.bursts.set(`${b.sensor}/${b.from}/${b.to}`, { ...b });
    for (const v of out.removedVotes) this.votes.delete(`${v.sensor}/${v.from}`);
    for (const v of out.votes) this.votes.set(`${v.sensor}/${v.from}`, { ...v });
    for (const a of out.alarms) this.alarms.set(a.id, structuredClone(a));
    for (const a of out.actions) this.actions.set(a.id, structuredClone(a));
    for (const f of out.findings) this.findings.set(f.id, structuredClone(f));
    this.journal.push(...out.journal.map((entry) => structuredClone(entry)));
    for (const d of out.diagnostics) {
      this.diagnostics.set(d.kind, (this.diagnostics.get(d.kind) ?? 0) + 1);
      this.details.set(d.kind, d.detail);
    }
    for (const c of out.checkpoints) this.checkpoints.set(c.key, { ...c });
  }

  private putIncrement(row: Increment): void {
    let rows = this.increments.get(row.sensor);
    if (rows === undefined) {
      rows = [];
      this.increments.set(row.sensor, rows);
    }
    const place = placeIn(rows, (other) => compareRows(other, row) < 0);
    const has = rows[place] !== undefined && compareRows(rows[place], row) === 0;
    if (row.stored !== has) {
      throw new Error(
        `increment ${row.sensor} at ${row.to}: stored is ${row.stored}, but the store ${has ? 'has' : 'lacks'} it`,
      );
    }
    const copy = { ...row, stored: true };
    delete copy.putIn;
    rows.splice(place, has ? 1 : 0, copy);
    row.stored = true;
  }

  private removeIncrement(key: Outputs['removedIncrements'][number]): void {
    const rows = this.increments.get(key.sensor) ?? [];
    const place = placeIn(rows, (other) => compareRows(other, key) < 0);
    if (rows[place] === undefined || compareRows(rows[place], key) !== 0)
      throw new Error(`increment ${key.sensor} at ${key.to} is to go, but the store lacks it`);
    rows.splice(place, 1);
  }

  private removeSpreads({ sensor, hour }: Pick<Spread, 'sensor' | 'hour'>): void {
    for (const [key, spread] of this.spreads)
      if (spread.sensor === sensor && spread.hour === hour) this.spreads.delete(key);
  }

  private addRollup(add: RollupAdd): void {
    const key = `${add.sensor}/${add.period}/${add.start}`;
    const old = this.rollups.get(key);
    if (old === undefined) {
      this.rollups.set(key, { ...structuredClone(add), revision: 0 });
      return;
    }
    for (let c = 0; c < 9; c++) {
      old.pulses[c]! += add.pulses[c]!;
      old.ms[c]! += add.ms[c]!;
    }
    old.uncertainMs += add.uncertainMs;
    for (const { bin, pulses, ms } of add.bins) addToBins(old.bins, bin, pulses, ms);
    old.revision += 1;
  }

  /** A sensor's increments by (to, chain, seq). */
  sortedIncrements(sensor: string): Increment[] {
    return this.increments.get(sensor) ?? [];
  }

  answer(need: Need): Answer {
    const answer: Answer = {
      need,
      increments: [],
      neighbours: [],
      drives: [],
      presences: [],
      bursts: [],
      votes: [],
      segments: [],
      transients: [],
    };
    if (need.increments !== null) {
      const { sensor, fromTo, toTo } = need.increments;
      const rows = this.sortedIncrements(sensor);
      const first = placeIn(rows, (row) => row.to < fromTo);
      const end = placeIn(rows, (row) => row.to < toTo);
      answer.increments.push(...rows.slice(first, end).map((row) => ({ ...row })));
    }
    if (need.neighbours !== null) answer.neighbours.push(...this.neighbours(need.neighbours));
    if (need.drives !== null) {
      const { motors, from, to } = need.drives;
      for (const motor of motors) {
        const found = between(this.drivesOf.of(motor), from, to, need.drives.lookBackMs);
        answer.drives.push(...found);
        const reach = Math.min(from, found[0]?.at ?? from);
        answer.presences.push(...between(this.presencesOf.of(motor), reach, to));
      }
    }
    if (need.zone !== null) {
      const { zone, from, to } = need.zone;
      for (const b of this.bursts.values())
        if (b.zone === zone && b.from < to && b.to > from) answer.bursts.push({ ...b });
      for (const v of this.votes.values())
        if (v.zone === zone && v.from < to && v.to > from) answer.votes.push({ ...v });
      answer.votes.sort((a, b) => a.from - b.from);
    }
    if (need.transients !== null) {
      const { motor, from, to } = need.transients;
      for (const t of this.transients.values()) {
        if (t.motor === motor && t.from < to && t.to > from) answer.transients.push(structuredClone(t));
      }
      answer.transients.sort((a, b) => a.from - b.from);
    }
    return answer;
  }

  private neighbours(ask: NonNullable<Need['neighbours']>): Increment[] {
    const key = (row: Increment): number => (ask.bySeq ? (row.seq ?? -1) : row.to);
    const rows = this.sortedIncrements(ask.sensor).filter((row) => row.chain === ask.chain);
    if (ask.bySeq) rows.sort((a, b) => key(a) - key(b));
    let first = rows.findIndex((row) => key(row) >= ask.least);
    if (first < 0) first = rows.length;
    let end = rows.findIndex((row) => key(row) > ask.most);
    if (end < 0) end = rows.length;
    return rows.slice(Math.max(0, first - 4), end + 4).map((row) => ({ ...row }));
  }

  /** Closed minutes with running exposure that start before a time, in order. */
  #minutesBefore(sensor: string, before: number): Minute[] {
    return [...this.rollups.values()]
      .filter((row) => row.sensor === sensor && row.period === '1m' && row.start < before)
      .map(({ start, pulses, ms, bins }) => ({
        ...{ start, pulses: pulses[Class.running]!, ms: ms[Class.running]! },
        bins: bins.filter((sum) => sum.pulses !== 0 || sum.ms !== 0).map((sum) => ({ ...sum })),
      }))
      .filter(({ ms }) => ms > 0)
      .sort((a, b) => a.start - b.start);
  }

  restore(): Restored {
    const increments = new Map<string, Increment[]>();
    const restored: Restored = {
      checkpoints: [...this.checkpoints.values()],
      chains: [...this.chains.values()],
      segments: [...this.segments.values()].map((s) => ({ ...s })),
      increments,
      minutes: { before: (sensor, before, most) => this.#minutesBefore(sensor, before).slice(-most) },
      drives: new Map(),
      presences: new Map(),
      bursts: [...this.bursts.values()].map((b) => ({ ...b })),
      votes: [...this.votes.values()].map((v) => ({ ...v })),
      spreads: [...this.spreads.values()].map((s) => structuredClone(s)).sort(compareSpreads),
      transients: [],
      alarms: [...this.alarms.values()].map((a) => structuredClone(a)),
      actions: [...this.actions.values()].map((a) => structuredClone(a)),
      findings: [...this.findings.values()].map((f) => structuredClone(f)),
    };
    for (const sensor of this.increments.keys()) {
      const rows = this.sortedIncrements(sensor);
      const newest = rows[rows.length - 1]!.to;
      const from = rows.findIndex((row) => row.to >= newest - RESTORE_REACH_MS);
      increments.set(
        sensor,
        rows.slice(Math.min(from, Math.max(0, rows.length - 80))).map((row) => ({ ...row })),
      );
    }
    for (const motor of new Set([...this.drives.values()].map((row) => row.motor))) {
      const own = this.drivesOf.of(motor);
      const newest = own[own.length - 1]!.at;
      const found = between(own, newest - RESTORE_REACH_MS, Infinity, LOOK_BACK_MS);
      restored.drives.set(motor, found);
      const told = this.presencesOf.of(motor);
      if (told.length > 0) restored.presences.set(motor, between(told, found[0]!.at, Infinity));
    }
    return restored;
  }
}

/** Those of rows in order of time in [from, to), the last before, and what came up to `lookBackMs` before that one. */
function between<T extends { at: number }>(
  rows: readonly T[],
  from: number,
  to: number,
  lookBackMs = 0,
): T[] {
  const before = rows[placeIn(rows, (row) => row.at < from) - 1];
  const first = before === undefined ? from : before.at - lookBackMs;
  const begin = placeIn(rows, (row) => row.at < first);
  return rows
    .slice(
      begin,
      placeIn(rows, (row) => row.at < to),
    )
    .map((row) => ({ ...row }));
}

/** One batch through the core, all its needs answered. `watch` sees each step's outputs. */
export function runBatch(
  plan: Plan,
  state: CoreState,
  store: MemoryStore,
  facts: readonly Fact[],
  watch?: (out: Outputs) => void,
): void {
  let out = step(plan, state, facts);
  store.apply(out);
  watch?.(out);
  const needs = [...out.needs];
  while (needs.length > 0) {
    const need = needs.shift()!;
    out = step(plan, state, [{ kind: 'stored', answer: store.answer(need) }]);
    store.apply(out);
    watch?.(out);
    needs.push(...out.needs);
  }
}

/** Opens the core anew from what the store holds. */
export function reopen(plan: Plan, store: MemoryStore): CoreState {
  return openState(plan, store.restore());
}
