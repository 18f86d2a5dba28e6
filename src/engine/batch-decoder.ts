/** From a batch of frames to facts, rejections and retained messages. Names and routes are remembered between batches. */
import type { Fact } from '../core/facts.js';
import type { Plan } from '../core/plan.js';
import type { CheckpointRow } from '../core/rows.js';
import { decodeBytes, routeTopic, type Route } from './decode.js';
import { FrameFlag, FrameKind, FrameReader } from './frame-reader.js';
import type { ClockVote } from './clock-vote.js';
import type { Presence } from './presence.js';
import type { FrameBatch } from './protocol.js';
import { makeRejection, type QuarantineBudget, type Rejection } from './quarantine.js';
import { retainedRow } from './retained.js';

export interface DecodedBatch {
  readonly facts: Fact[];
  readonly rejections: Rejection[];
  /** places of refused frames in the batch, ascending */
  readonly rejected: number[];
  readonly retained: CheckpointRow[];
}

const DENIED = 'not authorised: the client may not publish to this topic';

export class BatchDecoder {
  readonly #presence: Presence;
  readonly #budget: QuarantineBudget;
  readonly #vote: ClockVote;
  #plan: Plan;
  #names: string[] = [];
  #hasNames = false;
  #routes: (Route | undefined)[] = [];

  constructor(plan: Plan, presence: Presence, budget: QuarantineBudget, vote: ClockVote) {
    this.#vote = vote;
    this.#plan = plan;
    this.#presence = presence;
    this.#budget = budget;
  }

  setPlan(plan: Plan): void {
    this.#plan = plan;
    this.#routes = [];
  }

  /**
   * False: the numbers in it are those of an engine before this one. It was handed in before its sender heard of the halt,
   * and whoever waits for it is cut when it does.
   */
  knowsNames(batch: FrameBatch): boolean {
    return this.#hasNames || batch.resetNames;
  }

  /** Must see every batch whose names it knows, in order: names come with them. */
  learnNames(batch: FrameBatch): void {
    if (batch.resetNames) {
      this.#hasNames = true;
      this.#names = [];
      this.#routes = [];
    }
    for (const name of batch.names) this.#names.push(name);
  }

  decode(batch: FrameBatch): DecodedBatch {
    const decoded: DecodedBatch = { facts: [], rejections: [], rejected: [], retained: [] };
    const reader = new FrameReader(batch.buffer, batch.length);
    for (let place = 0; reader.next(); place++) {
      const client = this.#names[reader.client] ?? '';
      if (reader.kind === FrameKind.sessionEnd) {
        const isClean = (reader.flags & FrameFlag.clean) !== 0;
        this.#presence.endSession(client, isClean, reader.receivedAt, decoded.facts);
        continue;
      }
      this.#take(reader, client, place, decoded);
    }
    return decoded;
  }

  #take(reader: FrameReader, client: string, place: number, into: DecodedBatch): void {
    const { receivedAt, payload, flags } = reader;
    const isRetained = (flags & FrameFlag.retain) !== 0;
    const isDenied = (flags & FrameFlag.denied) !== 0;
    const route = this.#routeOf(reader.topic);
    const found = isDenied
      ? { ok: false as const, reason: DENIED }
      : decodeBytes(route, payload, isRetained, receivedAt);
    if (!found.ok) {
      into.rejected.push(place);
      if (this.#budget.spend(receivedAt)) {
        const topic = this.#names[reader.topic] ?? '';
        into.rejections.push(makeRejection(receivedAt, found.reason, topic, client, payload));
      }
      return;
    }
    const { fact } = found;
    if (fact !== null) this.#presence.take(client, fact, into.facts);
    if (fact?.kind === 'reading' && fact.at !== null && route.kind === 'reading') {
      this.#vote.note(route.sensor, fact.at, receivedAt);
    }
    if (isRetained) into.retained.push(retainedRow(this.#names[reader.topic] ?? '', payload));
  }

  #routeOf(topic: number): Route {
    let route = this.#routes[topic];
    if (route === undefined) {
      route = routeTopic(this.#names[topic] ?? '', this.#plan);
      this.#routes[topic] = route;
    }
    return route;
  }
}
