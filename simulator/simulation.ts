/** Runs a plant: all its messages in order of arrival, and the truth beside them. */
import type { Message } from './messages.js';
import { openPlant, type Plant } from './plant.js';
import type { Scenario } from './scenario.js';
import type { Truth, TruthQuery } from './truth.js';

export interface Simulation {
  /** in order of arrival; events of the line and ticks among them */
  readonly messages: Message[];
  readonly truth: Truth;
  readonly query: TruthQuery;
}

/** Beginning of a run that names none: a Monday morning in winter time, so that equal commands give equal files. */
export const DEFAULT_START = Date.UTC(2026, 2, 2, 6, 0, 0);

const CHUNK_MS = 600_000;

/** All at once, in memory. For long runs of many sensors take `streamMessages`. */
export function simulate(
  scenario: Scenario,
  seed: number,
  hours: number,
  options: { readonly start?: number } = {},
): Simulation {
  const plant = openPlant(scenario, seed, hours, options.start ?? DEFAULT_START);
  const messages: Message[] = [];
  for (const chunk of streamMessages(plant)) for (const message of chunk) messages.push(message);
  return { messages, truth: plant.tellTruth(), query: plant.query };
}

/**
 * The plant's messages, some minutes of arrival at a time. A plant can be run once. What is still on its way when the
 * run ends arrives after its end.
 */
export function* streamMessages(plant: Plant): Generator<Message[]> {
  const { span, scenario } = plant;
  let pending: Message[] = [];
  let tickAt = span.from;
  const withTicks = (messages: Message[], until: number): Message[] => {
    if (scenario.ticksMs === null) return messages;
    const mixed: Message[] = [];
    for (const message of messages) {
      for (; tickAt <= message.arrived; tickAt += scenario.ticksMs) mixed.push(makeTick(tickAt));
      mixed.push(message);
    }
    for (; tickAt < until; tickAt += scenario.ticksMs) mixed.push(makeTick(tickAt));
    return mixed;
  };
  for (let from = span.from; from < span.to; from += CHUNK_MS) {
    const until = Math.min(from + CHUNK_MS, span.to);
    for (const source of plant.sources) source.advance(until, pending);
    pending.sort((a, b) => a.arrived - b.arrived);
    const split = findSplit(pending, until);
    yield withTicks(pending.slice(0, split), until);
    pending = pending.slice(split);
  }
  if (pending.length > 0) yield withTicks(pending, 0);
}

function makeTick(arrived: number): Message {
  return { arrived, client: '', topic: '', payload: {}, retain: false, event: 'tick' };
}

/** Index of the first message that arrives at `until` or later. */
function findSplit(messages: readonly Message[], until: number): number {
  let low = 0;
  let high = messages.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (messages[middle]!.arrived < until) low = middle + 1;
    else high = middle;
  }
  return low;
}
