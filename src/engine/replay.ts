/**
 * Runs recorded messages through the same decoding, core and store as live ones, in big batches. Time is what was recorded:
 * tick lines where there are some, else a tick for every whole second that `arrived` passes.
 */
import type { Fact } from '../core/facts.js';
import type { Plan } from '../core/plan.js';
import type { CheckpointRow } from '../core/rows.js';
import type { CaptureItem } from './capture-page.js';
import { decodeBytes, decodeJson, routeTopic, type Route } from './decode.js';
import type { EngineCore } from './engine-core.js';
import { engineRow, readEngineRecord } from './engine-record.js';
import type { EngineStore } from './engine-store.js';
import { Presence } from './presence.js';
import { makeRejection, QuarantineBudget, type Rejection } from './quarantine.js';
import { retainedRow } from './retained.js';
import { commitBatch } from './transaction.js';

const TICK_MS = 1_000;
const BATCH_FACTS = 20_000;
/** Without tick lines time goes on for so long behind the last message, so that nothing stays undecided. */
const CLOSING_MS = 120_000;
/** Sensors that report seldom keep it going in such steps for longer, while something waits. */
const CLOSING_STEP_MS = 10_000;
/** A longer silence in a recording is skipped, but for this much before the next message. */
const SILENCE_MS_MAX = 86_400_000;
const ROUTES_MAX = 100_000;

export interface ReplayWishes<S> {
  readonly plan: Plan;
  readonly core: EngineCore<S>;
  readonly store: EngineStore;
  /** in the order of the recording, many at a time */
  readonly lines: AsyncIterable<readonly CaptureItem[]>;
  /** called after every commit */
  onProgress?(figures: ReplayFigures): void;
}

export interface ReplayFigures {
  readonly lines: number;
  readonly readings: number;
  readonly refused: number;
  readonly batches: number;
  /** `arrived` of the first and last line; null: there was none */
  readonly from: number | null;
  readonly to: number | null;
}

/** Resolves when everything is committed. Rejects when a batch cannot be stored; those before it are. */
export async function replay<S>(wishes: ReplayWishes<S>): Promise<ReplayFigures> {
  const player = new Player(wishes);
  for await (const lines of wishes.lines) player.take(lines);
  return player.finish();
}

class Player<S> {
  readonly #wishes: ReplayWishes<S>;
  readonly #state: S;
  readonly #presence = new Presence();
  readonly #budget = new QuarantineBudget();
  readonly #routes = new Map<string, Route>();
  #facts: Fact[];
  #rejections: Rejection[] = [];
  #retained = new Map<string, CheckpointRow>();
  #tickedAt: number;
  /** null: no line seen yet */
  #hasTicks: boolean | null = null;
  #figures = {
    lines: 0,
    readings: 0,
    refused: 0,
    batches: 0,
    from: null as number | null,
    to: null as number | null,
  };

  constructor(wishes: ReplayWishes<S>) {
    const { plan, core, store } = wishes;
    this.#wishes = wishes;
    const restored = store.restore(plan, core.restoreReachMs);
    const record = readEngineRecord(restored.checkpoints);
    this.#tickedAt = record?.tick ?? 0;
    // who was connected when an earlier recording ended is for this one to say
    this.#facts = this.#presence.restore(restored, null, this.#tickedAt);
    this.#state = core.open(plan, restored);
  }

  take(lines: readonly CaptureItem[]): void {
    this.#hasTicks ??= lines.some(({ kind }) => kind === 'tick');
    for (const line of lines) {
      this.#figures.lines += 1;
      this.#figures.from ??= line.arrived;
      this.#figures.to = Math.max(this.#figures.to ?? 0, line.arrived);
      if (this.#hasTicks) {
        if (line.kind === 'tick') this.#tick(line.arrived);
      } else this.#tickUpTo(line.arrived);
      this.#takeLine(line);
      if (this.#facts.length >= BATCH_FACTS) this.#commit();
    }
  }

  finish(): ReplayFigures {
    const { to } = this.#figures;
    if (to !== null && this.#hasTicks === false) this.#tickUpTo(to + CLOSING_MS);
    this.#commit();
    if (this.#hasTicks === false) this.#settle();
    return { ...this.#figures };
  }

  /** Time goes on until the last reading of the slowest sensor has been judged. */
  #settle(): void {
    const { core, plan } = this.#wishes;
    let waitMs = 0;
    for (const { reorderWaitMs } of plan.sensors.values()) waitMs = Math.max(waitMs, reorderWaitMs);
    const latest = this.#tickedAt + waitMs;
    while (this.#tickedAt < latest && core.hasWork(this.#state)) {
      this.#tickUpTo(this.#tickedAt + CLOSING_STEP_MS);
      this.#commit();
    }
  }

  #tickUpTo(arrived: number): void {
    if (this.#tickedAt === 0) this.#tickedAt = floorToTick(arrived) - TICK_MS;
    if (arrived - this.#tickedAt > SILENCE_MS_MAX) this.#tick(floorToTick(arrived - SILENCE_MS_MAX));
    for (let next = floorToTick(this.#tickedAt) + TICK_MS; next <= arrived; next += TICK_MS) this.#tick(next);
  }

  #tick(now: number): void {
    if (now <= this.#tickedAt) return;
    this.#tickedAt = now;
    this.#facts.push({ kind: 'tick', now });
    if (this.#facts.length >= BATCH_FACTS) this.#commit();
  }

  #takeLine(line: CaptureItem): void {
    if (line.kind === 'reading') {
      this.#figures.readings += 1;
      this.#presence.take(line.client, line.fact, this.#facts);
      return;
    }
    if (line.kind === 'disconnect') {
      this.#presence.endSession(line.client, line.isClean, line.arrived, this.#facts);
      return;
    }
    if (line.kind !== 'message') return;
    const { topic, payload, client, arrived, retain } = line;
    const route = this.#routeOf(topic);
    const isJson = 'json' in payload;
    const found = isJson
      ? decodeJson(route, payload.json, arrived)
      : decodeBytes(route, payload.bytes, retain, arrived);
    if (!found.ok) {
      this.#figures.refused += 1;
      if (this.#budget.spend(arrived)) {
        this.#rejections.push(makeRejection(arrived, found.reason, topic, client, toBytes(payload)));
      }
      return;
    }
    if (found.fact !== null) {
      if (found.fact.kind === 'reading') this.#figures.readings += 1;
      this.#presence.take(client, found.fact, this.#facts);
    }
    if (retain) this.#retained.set(topic, retainedRow(topic, toBytes(payload)));
  }

  #routeOf(topic: string): Route {
    let route = this.#routes.get(topic);
    if (route === undefined) {
      if (this.#routes.size >= ROUTES_MAX) this.#routes.clear();
      route = routeTopic(topic, this.#wishes.plan);
      this.#routes.set(topic, route);
    }
    return route;
  }

  #commit(): void {
    const { core, store, plan } = this.#wishes;
    const engine = engineRow({ tick: this.#tickedAt, presence: this.#presence.record() });
    const batch = {
      facts: this.#facts,
      rejections: this.#rejections,
      checkpoints: [...this.#retained.values(), engine],
      journal: [],
    };
    commitBatch(core, store, plan, this.#state, batch, ignore, null);
    this.#facts = [];
    this.#rejections = [];
    this.#retained = new Map();
    this.#figures.batches += 1;
    this.#wishes.onProgress?.({ ...this.#figures });
  }
}

function ignore(): void {
  // nobody listens to a replay
}

function floorToTick(time: number): number {
  return time - (time % TICK_MS);
}

function toBytes(payload: { readonly json: unknown } | { readonly bytes: Buffer }): Uint8Array {
  return 'bytes' in payload ? payload.bytes : Buffer.from(JSON.stringify(payload.json), 'utf8');
}
