/**
 * A little plant for properties of the core: readings and drive messages with known truth, all from a seed. Independent
 * of the simulator, so that one mistake cannot hide in both.
 */
import type { DriveFact, Fact, ReadingFact } from '../../src/core/facts.js';

/** A seeded stream of numbers in [0, 1). Source: mulberry32, public domain, from memory. */
export function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export interface LittlePlant {
  facts: (ReadingFact | DriveFact)[];
  start: number;
  end: number;
  /** true pulses per sensor over the whole time covered by its readings */
  total: Map<string, number>;
}

export interface Wishes {
  motors: number;
  minutes: number;
  /** reboots of devices, with boot numbers */
  reboots: boolean;
  /** zone-wide bursts */
  bursts: boolean;
  /** torn counts */
  torn: boolean;
  boots: boolean;
  seqs: boolean;
  rate: number;
  bits: 16 | 32 | 53;
  /** drives change speed and load while they run, and readings carry a temperature */
  conditions?: boolean;
}

const START = 1_700_000_000_000;

interface Span {
  from: number;
  state: DriveFact['state'];
}

function drives(motor: string, random: () => number, end: number): { facts: DriveFact[]; spans: Span[] } {
  const spans: Span[] = [];
  let at = START - 600_000;
  let state: DriveFact['state'] = 'running';
  const facts: DriveFact[] = [];
  const say = (from: number, next: DriveFact['state']): void => {
    spans.push({ from, state: next });
    facts.push({
      kind: 'drive',
      motor,
      state: next,
      modulating: next === 'running' || next === 'starting' || next === 'stopping',
      at: Math.max(from, START) + Math.floor(random() * 300),
      since: from,
      speedRpm: next === 'running' ? 1400 + Math.floor(random() * 400) : null,
      loadPct: null,
      switchingKhz: null,
      dcLinkV: null,
      receivedAt: Math.max(from, START) + 400,
    });
  };
  say(at, state);
  while (at < end) {
    at += 600_000 + Math.floor(random() * 6_000_000);
    if (at >= end) break;
    if (state === 'running') {
      say(at, 'stopping');
      at += 3000 + Math.floor(random() * 9000);
      state = random() < 0.1 ? 'fault' : 'stopped';
      say(at, state);
    } else {
      say(at, 'starting');
      at += 4000 + Math.floor(random() * 12000);
      state = 'running';
      say(at, state);
    }
  }
  return { facts, spans };
}

function stateAt(spans: readonly Span[], at: number): DriveFact['state'] {
  let state: DriveFact['state'] = 'stopped';
  for (const span of spans) if (span.from <= at) state = span.state;
  return state;
}

function poisson(random: () => number, mean: number): number {
  let n = 0;
  let left = mean;
  while (left > 30) {
    n += 30;
    left -= 30;
  }
  const limit = Math.exp(-left);
  let product = random();
  while (product > limit) {
    n += 1;
    product *= random();
  }
  return n;
}

/** What a drive says while it runs: it wanders about an edge at 1500, and often leaves a value out. */
function sayConditions(
  motor: string,
  random: () => number,
  spans: readonly Span[],
  end: number,
): DriveFact[] {
  const facts: DriveFact[] = [];
  spans.forEach((span, i) => {
    const stop = spans[i + 1]?.from ?? end;
    let speed = 1450 + Math.floor(random() * 100);
    for (
      let at = Math.max(span.from, START) + 20_000;
      at < stop;
      at += 5_000 + Math.floor(random() * 200_000)
    ) {
      speed += Math.floor((random() - 0.5) * (random() < 0.1 ? 300 : 30));
      facts.push({
        ...{
          kind: 'drive',
          motor,
          state: span.state,
          modulating: span.state !== 'stopped' && span.state !== 'fault',
        },
        ...{ at, since: span.from, receivedAt: at + 100, switchingKhz: null, dcLinkV: null },
        speedRpm: random() < 0.8 ? speed : null,
        loadPct: random() < 0.5 ? Math.floor(random() * 100) : null,
      });
    }
  });
  return facts;
}

/** Makes the plant: readings each about 10 s of two sensors a motor, in order of time. */
export function makeLittlePlant(seed: number, wishes: Wishes): LittlePlant {
  const random = seeded(seed);
  const end = START + wishes.minutes * 60_000;
  const facts: (ReadingFact | DriveFact)[] = [];
  const total = new Map<string, number>();
  const bursts: number[] = [];
  if (wishes.bursts)
    for (let i = 0; i < 3; i++)
      bursts.push(START + 4_500_000 + Math.floor(random() * (end - START - 4_500_000)));
  const modulus = wishes.bits === 53 ? Number.MAX_SAFE_INTEGER : 2 ** wishes.bits;
  for (let m = 1; m <= wishes.motors; m++) {
    const motor = `pump-${m}`;
    const { facts: messages, spans } = drives(motor, random, end);
    facts.push(...messages);
    if (wishes.conditions === true) facts.push(...sayConditions(motor, random, spans, end));
    for (const position of ['de', 'nde']) {
      let at = START + Math.floor(random() * 10_000);
      let count = Math.floor(random() * 500);
      let boot = 1;
      let seq = 0;
      let up = 0;
      let sum = 0;
      let previous = at;
      while (at < end) {
        const running = stateAt(spans, at) === 'running';
        const burst = bursts.some((b) => b > previous - 10_000 && b <= at)
          ? 200 + Math.floor(random() * 50)
          : 0;
        const pulses = seq === 0 && boot === 1 ? 0 : poisson(random, running ? wishes.rate : 0.1) + burst;
        count = (count + pulses) % modulus;
        sum += seq === 0 && boot === 1 ? 0 : pulses;
        const torn = wishes.torn && random() < 0.002;
        facts.push({
          kind: 'reading',
          sensor: `${motor}/${position}`,
          device: `SN-${m}${position}`,
          count: torn ? Math.min(modulus - 1, count + 40_000_000) : count,
          at,
          seq: wishes.seqs ? seq : null,
          boot: wishes.boots ? boot : null,
          upMs: up,
          temperatureC: wishes.conditions === true ? 30 + Math.floor(random() * 200) / 10 : null,
          check: random() < 0.001,
          receivedAt: at + 50,
        });
        seq += 1;
        previous = at;
        const step = 9_900 + Math.floor(random() * 200);
        at += step;
        up += step;
        if (wishes.reboots && random() < 0.002) {
          boot += 1;
          seq = 0;
          up = 2000;
          count = 0;
          at += 12_000;
          total.set(`${motor}/${position}`, sum);
        }
      }
      total.set(`${motor}/${position}`, sum);
    }
  }
  facts.sort((a, b) => a.receivedAt - b.receivedAt);
  return { facts, start: START, end, total };
}

/** Ticks each second from one time to another, mixed into facts that are in order of arrival. */
export function withTicks(facts: readonly Fact[], everyMs: number, tailMs: number): Fact[] {
  const mixed: Fact[] = [];
  let next = 0;
  let last = 0;
  for (const fact of facts) {
    const arrived = 'receivedAt' in fact ? fact.receivedAt : last;
    if (next === 0) next = Math.floor(arrived / everyMs) * everyMs;
    while (next <= arrived) {
      mixed.push({ kind: 'tick', now: next });
      next += everyMs;
    }
    mixed.push(fact);
    last = Math.max(last, arrived);
  }
  for (let end = last + tailMs; next <= end; next += everyMs) mixed.push({ kind: 'tick', now: next });
  return mixed;
}
