/**
 * A rough plant for properties of the core: drives that report in every way there is, sensors of different intervals,
 * devices that are swapped and rebooted, counters that wrap, bursts that a whole hall hears. All from a seed, with the
 * truth of what was counted in each stretch of one state.
 */
import type { DriveFact, DrivePresenceFact, ReadingFact } from '../../src/core/facts.js';
import type { MotorPlan, SensorPlan } from '../../src/core/plan.js';
import { seeded } from './little-plant.js';
import { motorPlan, sensorPlan } from './plans.js';

export type RoughFact = ReadingFact | DriveFact | DrivePresenceFact;
export type Reporter = 'change' | 'change-bare' | 'heartbeat' | 'polled' | 'none';

export interface RoughWishes {
  motors: number;
  minutes: number;
  reporters: readonly Reporter[];
  intervalsMs: readonly number[];
  bits: 16 | 32 | 53;
  /** mean time between changes of run state, ms; 0: runs throughout */
  holdMs: number;
  bursts: number;
  reboots: number;
  swaps: number;
  torn: number;
  checks: number;
  boots: boolean;
  seqs: boolean;
  upMs: boolean;
  coupled: boolean;
  presence: boolean;
  rate: number;
}

export interface Truth {
  sensor: string;
  from: number;
  to: number;
  pulses: number;
}

export interface RoughPlant {
  motors: MotorPlan[];
  sensors: SensorPlan[];
  facts: RoughFact[];
  start: number;
  end: number;
  /** true increments between consecutive readings of one device life, with the run state throughout */
  truth: Truth[];
  bursts: { from: number; to: number }[];
}

export const ROUGH_START = 1_700_000_000_000;
const HEARTBEAT_MS = 10_000;
const POLL_MS = 15_000;

interface Span {
  from: number;
  state: DriveFact['state'];
}

type Random = () => number;

function between(random: Random, least: number, most: number): number {
  return least + Math.floor(random() * (most - least));
}

/** Source: Knuth's product method in parts of 30. */
function poisson(random: Random, mean: number): number {
  let n = 0;
  for (let left = mean; left > 0; left -= 30) {
    const limit = Math.exp(-Math.min(30, left));
    for (let product = random(); product > limit; product *= random()) n += 1;
  }
  return n;
}

function liveSpans(random: Random, holdMs: number, end: number): Span[] {
  const spans: Span[] = [{ from: ROUGH_START - 600_000, state: 'running' }];
  let at = ROUGH_START;
  let running = true;
  while (holdMs > 0) {
    at += between(random, holdMs / 4, 2 * holdMs);
    if (at >= end) break;
    spans.push({ from: at, state: running ? 'stopping' : 'starting' });
    at += between(random, 1000, 12_000);
    spans.push({ from: at, state: running ? (random() < 0.2 ? 'fault' : 'stopped') : 'running' });
    running = !running;
  }
  return spans;
}

export function spanAt(spans: readonly Span[], at: number): Span {
  let found = spans[0]!;
  for (const span of spans) if (span.from <= at) found = span;
  return found;
}

function driveFact(random: Random, motor: string, span: Span, at: number, since: boolean): DriveFact {
  return {
    kind: 'drive',
    motor,
    state: span.state,
    modulating: span.state !== 'stopped' && span.state !== 'fault',
    at,
    since: since ? span.from : null,
    speedRpm: span.state === 'running' ? 1450 + (random() < 0.001 ? 300 : 0) : null,
    loadPct: null,
    switchingKhz: null,
    dcLinkV: null,
    receivedAt: at + between(random, 20, 400),
  };
}

function driveFacts(
  random: Random,
  motor: string,
  reporter: Reporter,
  spans: readonly Span[],
  end: number,
  presence: boolean,
): RoughFact[] {
  const facts: RoughFact[] = [];
  if (reporter === 'none') return facts;
  const away: [number, number][] = [];
  if (presence) {
    const from = between(random, ROUGH_START + 600_000, end - 600_000);
    away.push([from, from + between(random, 20_000, 400_000)]);
  }
  const isAway = (at: number): boolean => away.some(([from, to]) => at >= from && at < to);
  const moments: number[] = [ROUGH_START + between(random, 0, 5000)];
  if (reporter === 'heartbeat' || reporter === 'polled') {
    const step = reporter === 'heartbeat' ? HEARTBEAT_MS : POLL_MS;
    for (let at = moments[0]! + step; at < end + 60_000; at += step + between(random, -200, 200)) {
      if (random() > 0.01) moments.push(at);
    }
  }
  if (reporter !== 'polled')
    for (const span of spans) if (span.from > ROUGH_START) moments.push(span.from + between(random, 1, 300));
  for (const [, to] of away) moments.push(to + 50);
  moments.sort((a, b) => a - b);
  const since = reporter === 'change' || reporter === 'heartbeat';
  for (const at of new Set(moments)) {
    if (!isAway(at)) facts.push(driveFact(random, motor, spanAt(spans, at), at, since));
  }
  for (const [from, to] of away) {
    facts.push({ kind: 'drive-presence', motor, online: false, receivedAt: from });
    facts.push({ kind: 'drive-presence', motor, online: true, receivedAt: to });
  }
  return facts;
}

/** One sensor's readings and truth; pulses fall second by second, so that a burst is shared by all that hear it. */
class SensorLife {
  readonly facts: ReadingFact[] = [];
  readonly truth: Truth[] = [];
  private device = 1;
  private boot = 3;
  private seq = 0;
  private count: number;
  private upFrom: number;
  private lastAt: number | null = null;
  private since = 0;

  constructor(
    private readonly plan: SensorPlan,
    private readonly wishes: RoughWishes,
    private readonly spans: readonly Span[],
    private readonly bursts: readonly { from: number; to: number }[],
    private readonly random: Random,
  ) {
    this.count = between(random, 0, 60_000);
    this.upFrom = ROUGH_START - 5_000_000;
  }

  live(end: number): void {
    const { random, plan, wishes } = this;
    let next = ROUGH_START + between(random, 0, plan.intervalMs);
    let checkLeft = 0;
    for (let at = ROUGH_START; at < end; at += 500) {
      this.countTo(at);
      if (at < next) continue;
      if (random() < wishes.checks) checkLeft = 4;
      if (random() > 0.004) this.read(next, checkLeft > 0);
      if (checkLeft > 0) checkLeft -= 1;
      this.seq += 1;
      next += plan.intervalMs + between(random, -100, 100);
      if (random() < wishes.reboots) next = this.restart(at, false);
      else if (random() < wishes.swaps) next = this.restart(at, true);
    }
  }

  private countTo(at: number): void {
    const { state } = spanAt(this.spans, at);
    const mean =
      state === 'running'
        ? this.wishes.rate / 20
        : state === 'starting' || state === 'stopping'
          ? this.wishes.rate / 5
          : 0.002;
    let n = poisson(this.random, mean);
    for (const burst of this.bursts) if (at >= burst.from && at < burst.to) n += between(this.random, 20, 60);
    this.count += n;
    this.since += n;
  }

  private read(at: number, check: boolean): void {
    const { plan, wishes, random } = this;
    const modulus = wishes.bits === 53 ? Number.MAX_SAFE_INTEGER : 2 ** wishes.bits;
    const torn = random() < wishes.torn;
    this.facts.push({
      kind: 'reading',
      sensor: plan.key,
      device: `SN-${plan.key}-${this.device}`,
      count: torn ? Math.min(modulus - 1, this.count + 30_000_000) : this.count % modulus,
      at,
      seq: wishes.seqs ? this.seq : null,
      boot: wishes.boots ? this.boot : null,
      upMs: wishes.upMs ? at - this.upFrom : null,
      temperatureC: null,
      check,
      receivedAt: at + between(random, 10, 300),
    });
    if (this.lastAt !== null && !torn)
      this.truth.push({ sensor: plan.key, from: this.lastAt, to: at, pulses: this.since });
    if (!torn) {
      this.lastAt = at;
      this.since = 0;
    }
  }

  private restart(at: number, swap: boolean): number {
    const { random } = this;
    if (swap) {
      this.device += 1;
      this.boot = between(random, 1, 9);
    } else this.boot += random() < 0.2 ? 3 : 1;
    this.upFrom = at + between(random, 1000, 30_000);
    this.seq = 0;
    this.count = swap ? between(random, 0, 5000) : 0;
    this.lastAt = null;
    this.since = 0;
    return this.upFrom + between(random, 500, this.plan.intervalMs);
  }
}

function heartbeatOf(reporter: Reporter): number | null {
  return reporter === 'heartbeat' ? HEARTBEAT_MS : reporter === 'polled' ? POLL_MS : null;
}

export function makeRoughPlant(seed: number, wishes: RoughWishes): RoughPlant {
  const random = seeded(seed);
  const end = ROUGH_START + wishes.minutes * 60_000;
  const bursts: { from: number; to: number }[] = [];
  for (let i = 0; i < wishes.bursts; i++) {
    const from = between(random, ROUGH_START + 4_800_000, end - 60_000);
    bursts.push({ from, to: from + between(random, 2000, 20_000) });
  }
  const motors: MotorPlan[] = [];
  const sensors: SensorPlan[] = [];
  const facts: RoughFact[] = [];
  const truth: Truth[] = [];
  for (let m = 0; m < wishes.motors; m++) {
    const key = `fan-${m + 1}`;
    const reporter = wishes.reporters[m % wishes.reporters.length]!;
    motors.push(motorPlan(key, { hasRunState: reporter !== 'none', heartbeatMs: heartbeatOf(reporter) }));
    const spans = liveSpans(random, m % 3 === 0 || wishes.bursts === 0 ? wishes.holdMs : 0, end);
    facts.push(...driveFacts(random, key, reporter, spans, end, wishes.presence && m % 2 === 0));
    const intervalMs = wishes.intervalsMs[m % wishes.intervalsMs.length]!;
    const plan = sensorPlan(key, 'de', {
      intervalMs,
      counterBits: wishes.bits,
      maxRatePerS: wishes.bits === 16 ? 300 : 50_000,
      reorderWaitMs: intervalMs + 5000,
      coupledMotors: wishes.coupled && m > 0 ? [`fan-${m}`] : [],
    });
    sensors.push(plan);
    const life = new SensorLife(plan, wishes, spans, bursts, random);
    life.live(end);
    facts.push(...life.facts);
    truth.push(...life.truth.filter((t) => spanAt(spans, t.from) === spanAt(spans, t.to)));
  }
  facts.sort((a, b) => a.receivedAt - b.receivedAt);
  return { motors, sensors, facts, start: ROUGH_START, end, truth, bursts };
}
