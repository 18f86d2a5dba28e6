/** Rows of every kind for tests of the store, and folders to keep them in. */
import { newAlarm } from '../../src/core/alarm.js';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Need } from '../../src/core/needs.js';
import type { AlarmRecord, Evidence } from '../../src/core/alarm-rows.js';
import { emptyOutputs } from '../../src/core/outputs.js';
import type { Increment, Outputs, RollupAdd, Segment } from '../../src/core/rows.js';
import { Class, Reason } from '../../src/core/words.js';
import type { Applied } from '../../src/store/writer.js';
import type { Store } from '../../src/store/store.js';

export const START = 1_700_000_000_000 - (1_700_000_000_000 % 3_600_000);

export function makeFolder(): { dir: string; remove: () => void } {
  const dir = mkdtempSync(join(tmpdir(), 'tallypost-store-'));
  return { dir, remove: () => rmSync(dir, { recursive: true, force: true }) };
}

export function outputs(some: Partial<Outputs> = {}): Outputs {
  return { ...emptyOutputs(), ...some };
}

export function increment(some: Partial<Increment> = {}): Increment {
  const to = some.to ?? START + 10_000;
  return {
    sensor: 'pump-1/de',
    to,
    from: to - 10_000,
    chain: 1,
    seq: 1,
    count: 100,
    upMs: null,
    pulses: 3,
    class: Class.running,
    reason: Reason.none,
    flags: 0,
    temperature: null,
    bin: '',
    stored: false,
    ...some,
  };
}

export function segment(some: Partial<Segment> = {}): Segment {
  return {
    sensor: 'pump-1/de',
    chain: 1,
    startTo: START,
    startSeq: 0,
    firstCount: 0,
    lastTo: START,
    lastSeq: 0,
    lastCount: 0,
    wraps: 0,
    modulus: 2 ** 32,
    openedBy: 'first',
    unknownReason: '',
    unknownFrom: 0,
    unknownTo: 0,
    unknownLow: 0,
    unknownHigh: null,
    ...some,
  };
}

/** Sums that hold `pulses` and `ms` in the class running. */
export function rollup(pulses: number, ms: number, some: Partial<RollupAdd> = {}): RollupAdd {
  return {
    sensor: 'pump-1/de',
    period: '1m',
    start: START,
    pulses: [0, 0, 0, 0, 0, 0, pulses, 0, 0],
    ms: [0, 0, 0, 0, 0, 0, ms, 0, 0],
    uncertainMs: 0,
    bins: [],
    ...some,
  };
}

export const EVIDENCE: Evidence = {
  from: START,
  to: START + 600_000,
  pulses: 480,
  exposureMs: 600_000,
  ratePerMin: 48,
  lowerPerMin: 43.8,
  upperPerMin: 52.5,
  dispersion: 1.25,
  confidence: 0.95,
  setpointPerMin: 40,
  deadbandPerMin: 8,
  onDelayMs: 300_000,
  offDelayMs: 600_000,
  strip: [{ from: START, to: START + 600_000, state: 'running', modulating: true }],
  configuration: 'a1b2c3',
  says: 'The lower limit lies above the setpoint.',
};

export function alarm(some: Partial<AlarmRecord> = {}): AlarmRecord {
  const id = 'pump-1.de-rate-high';
  return {
    ...newAlarm({
      id,
      motor: 'pump-1',
      alarm: 'de-rate-high',
      sensor: 'pump-1/de',
      kind: 'rate-high',
      priority: 'low',
    }),
    ...{
      active: true,
      acknowledged: false,
      state: 'unacknowledged',
      since: START,
      onMs: 300_000,
      evidence: EVIDENCE,
    },
    ...some,
  };
}

/** A counter of pump-1/de with `rows` readings 10 s apart, its segment and its 1 min rollups: a balanced ledger. */
export function balancedCounter(rows: number, some: { sensor?: string; chain?: number } = {}): Outputs {
  const { sensor = 'pump-1/de', chain = 1 } = some;
  const out = outputs({ chains: [{ id: chain, sensor, device: `SN-${chain}`, boot: 1 }] });
  let count = 1000;
  const minutes = new Map<number, RollupAdd>();
  for (let seq = 0; seq < rows; seq++) {
    const pulses = seq === 0 ? 0 : (seq * 7) % 23;
    count += pulses;
    const to = START + seq * 10_000;
    const cls = seq === 0 ? Class.none : Class.running;
    out.increments.push(
      increment({ sensor, chain, seq, to, from: seq === 0 ? to : to - 10_000, count, pulses, class: cls }),
    );
    if (seq === 0) continue;
    const start = Math.floor((to - 1) / 60_000) * 60_000;
    const minute = minutes.get(start) ?? rollup(0, 0, { sensor, start });
    minute.pulses[Class.running]! += pulses;
    minute.ms[Class.running]! += 10_000;
    minutes.set(start, minute);
  }
  out.rollups.push(...minutes.values());
  const lastTo = START + (rows - 1) * 10_000;
  out.segments.push(
    segment({ sensor, chain, firstCount: 1000, lastTo, lastSeq: rows - 1, lastCount: count }),
  );
  return out;
}

/** One transaction. */
export function commit(store: Store, out: Outputs): Applied {
  store.begin();
  const applied = store.apply(out);
  store.commit();
  return applied;
}

export function need(some: Partial<Need>): Need {
  return {
    id: 1,
    increments: null,
    neighbours: null,
    drives: null,
    zone: null,
    segments: null,
    transients: null,
    ...some,
  };
}

/** As it comes back from the store. */
export function stored(row: Increment): Increment {
  return { ...row, stored: true };
}
