/** Counts over a set time: which increments belong, what they cover, what stood beside them, and what is said. */
import { describe, expect, it } from 'vitest';
import type { DriveRow, Increment } from '../../src/core/rows.js';
import { countTime, type CountQuery, type CountRows } from '../../src/core/timed-count.js';
import { Class, Flag, Reason } from '../../src/core/words.js';
import { rateLimits } from '../../src/stats/poisson.js';

const T = 1_700_000_000_000;

/** Readings every `stepMs`, `offsetMs` behind whole steps from T − step on; each increment has `pulses`. */
function increments(
  count: number,
  some: { stepMs?: number; offsetMs?: number; pulses?: number } = {},
): Increment[] {
  const { stepMs = 10_000, offsetMs = 0, pulses = 15 } = some;
  return Array.from({ length: count }, (_, i) => {
    const to = T + i * stepMs + offsetMs;
    return {
      ...{
        sensor: 'pump-1/de',
        to,
        from: to - stepMs,
        chain: 1,
        seq: i,
        count: i * pulses,
        upMs: null,
        pulses,
      },
      ...{ class: Class.running, reason: Reason.none, flags: 0, temperature: null, bin: '', stored: true },
    };
  });
}

function drive(at: number, some: Partial<DriveRow> = {}): DriveRow {
  return {
    ...{ motor: 'pump-1', at, since: null, state: 'running', modulating: true, receivedAt: at },
    ...{ speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null },
    ...some,
  };
}

const asked: CountQuery = {
  ...{ sensor: 'pump-1/de', from: T, to: T + 60_000 },
  ...{ hasRunState: true, heartbeatMs: null, deadTimeS: 0 },
};

/** The rows of a store that holds these: only increments that end in (from, to] are handed in. */
function rowsOf(all: readonly Increment[], some: Partial<CountRows> = {}, query = asked): CountRows {
  return {
    increments: all.filter(({ to }) => to > query.from && to <= query.to),
    classAtEnd: all.find(({ to }) => to >= query.to)?.class ?? null,
    ...{ drives: [drive(T - 600_000)], presences: [], spreads: [] },
    ...some,
  };
}

describe('what is covered', () => {
  it('readings on the marks cover exactly what was asked for', () => {
    const count = countTime(asked, rowsOf(increments(20)));
    expect(count).toMatchObject({
      ...{ pulses: 90, increments: 6, coveredMs: 60_000, isSettled: true },
      covered: { from: T, to: T + 60_000 },
    });
    expect(count.says).toContain(
      'counted 90 pulses in 60 s of whole increments. They cover the time asked for',
    );
    expect(count.says).toContain('compare its total with 90');
  });

  it('readings between the marks begin early and end early, and that is said', () => {
    const count = countTime(asked, rowsOf(increments(20, { offsetMs: 4_500 })));
    expect(count.covered).toEqual({ from: T - 5_500, to: T + 54_500 });
    expect([count.pulses, count.coveredMs]).toEqual([90, 60_000]);
    expect(count.says).toContain('begins 5.5 s before the time asked for and ends 5.5 s before its end');
  });

  it('a first reading inside begins late; what is missing between is left out, not counted as time', () => {
    const all = increments(20);
    const first = { ...all[1]!, class: Class.none, from: all[1]!.to, pulses: 0, flags: Flag.anchor };
    const count = countTime(asked, rowsOf([first, all[2]!, ...all.slice(4)]));
    expect(count.covered).toEqual({ from: T + 10_000, to: T + 60_000 });
    expect([count.increments, count.pulses, count.coveredMs]).toEqual([4, 60, 40_000]);
    expect(count.says).toContain('begins 10 s after the time asked for and leaves out 10 s between');
  });

  it('a long increment that ends inside counts whole, and shows', () => {
    const long = { ...increments(1)[0]!, to: T + 30_000, from: T - 300_000, class: Class.unattributed };
    const count = countTime(asked, rowsOf([long, ...increments(20).slice(4)]));
    expect(count.coveredMs).toBe(360_000);
    expect(count.says).toContain('begins 300 s before');
    expect(count.sums.ms[Class.running]).toBe(30_000);
    expect(count.says).toContain('45 of them came while it ran');
  });

  it('nothing that ends inside is no count, not a count of zero', () => {
    const count = countTime(asked, rowsOf([]));
    expect(count).toMatchObject({
      covered: null,
      pulses: 0,
      ratePerMin: null,
      quality: 'bad',
      isSettled: false,
    });
    expect(count.says).toContain('that is not zero');
  });

  it.each([7_300, 10_000, 60_000])(
    'counts of adjoining times of %i ms add up to the count of all of it',
    (ms) => {
      const all = increments(400, { stepMs: 3_700, offsetMs: 1_234 }).map((row, i) => ({
        ...row,
        pulses: i % 7,
      }));
      const whole = { ...asked, to: T + 20 * ms };
      let pulses = 0;
      let covered = 0;
      for (let from = T; from < whole.to; from += ms) {
        const query = { ...asked, from, to: from + ms };
        const count = countTime(query, rowsOf(all, {}, query));
        pulses += count.pulses;
        covered += count.coveredMs;
      }
      const count = countTime(whole, rowsOf(all, {}, whole));
      expect([pulses, covered]).toEqual([count.pulses, count.coveredMs]);
    },
  );

  it('a few milliseconds at the marks are not worth a word', () => {
    const count = countTime(asked, rowsOf(increments(20, { offsetMs: -13 })));
    expect(count.covered).toEqual({ from: T - 13, to: T + 59_987 });
    expect(count.says).toContain('They cover the time asked for, to a tenth of a second.');
  });
});

describe('what stands beside it', () => {
  it('the run state as a strip over what is covered, from since and presence', () => {
    const drives = [
      drive(T - 600_000, { state: 'stopped', modulating: false }),
      drive(T + 21_000, { state: 'starting', since: T + 20_000 }),
      drive(T + 30_000, { since: T + 30_000 }),
    ];
    const presences = [{ motor: 'pump-1', at: T + 50_000, online: false }];
    const { strip, says } = countTime(asked, rowsOf(increments(20), { drives, presences }));
    expect(strip.map(({ from, to, state }) => [from - T, to - T, state])).toEqual([
      [0, 20_000, 'stopped'],
      [20_000, 30_000, 'starting'],
      [30_000, 50_000, 'running'],
      [50_000, 60_000, 'unknown'],
    ]);
    expect(says).toContain('not one condition');
  });

  it('the condition is weighed by time, and null where nobody told it', () => {
    const drives = [
      drive(T - 5_000, { speedRpm: 1_000, dcLinkV: 540 }),
      drive(T + 15_000, { speedRpm: 1_400, dcLinkV: null }),
    ];
    const { condition } = countTime(asked, rowsOf(increments(20), { drives }));
    expect(condition.speedRpm).toEqual({ least: 1_000, mean: 1_300, most: 1_400, knownMs: 60_000 });
    expect(condition.dcLinkV).toEqual({ least: 540, mean: 540, most: 540, knownMs: 15_000 });
    expect(condition.loadPct).toBeNull();
  });

  it('what a reporter that is gone said last is no condition', () => {
    const presences = [{ motor: 'pump-1', at: T + 10_000, online: false }];
    const drives = [drive(T - 5_000, { speedRpm: 1_000 })];
    const { condition } = countTime(asked, rowsOf(increments(20), { drives, presences }));
    expect(condition.speedRpm?.knownMs).toBe(10_000);
  });

  it('the rate with limits over running time alone, corrected for dead time', () => {
    const all = increments(20).map((row, i) =>
      i === 3 ? { ...row, class: Class.common, pulses: 900 } : row,
    );
    const query = { ...asked, deadTimeS: 0.01 };
    const count = countTime(query, rowsOf(all));
    const options = { confidence: 0.95, dispersion: 1, deadTimeS: 0.01 };
    expect(count).toMatchObject({ pulses: 975, ...rateOf(rateLimits(75, 50_000, options)!) });
    expect(count.says).toContain('75 of them came while it ran');
  });

  it('bursts of the hours before widen the limits', () => {
    const bursty = Array.from({ length: 3 }, (_, i) => ({
      ...{ sensor: 'pump-1/de', hour: T - (i + 1) * 3_600_000, bin: 'all', pulses: 3_600, ms: 3_600_000 },
      ...{ q: [18_000, 15_000, 12_000, 3_600] as [number, number, number, number] },
      ...{ k: [360, 60, 6, 1] as [number, number, number, number] },
    }));
    const plain = countTime(asked, rowsOf(increments(20)));
    const wide = countTime(asked, rowsOf(increments(20), { spreads: bursty }));
    expect(wide.dispersion).toBeGreaterThan(1);
    expect(wide.upperPerMin).toBeGreaterThan(plain.upperPerMin!);
    expect(wide.lowerPerMin).toBeLessThan(plain.lowerPerMin!);
  });
});

function rateOf(limits: { ratePerMin: number; lowerPerMin: number; upperPerMin: number }) {
  const { ratePerMin, lowerPerMin, upperPerMin } = limits;
  return { ratePerMin, lowerPerMin, upperPerMin };
}

describe('settled', () => {
  it('is a count once a reading covers its end and everything has its class', () => {
    const all = increments(20);
    expect(countTime(asked, rowsOf(all.slice(0, 6))).isSettled).toBe(false);
    expect(countTime(asked, rowsOf(all.slice(0, 7))).isSettled).toBe(true);
    const pending = all.map((row, i) => (i === 5 ? { ...row, class: Class.pending } : row));
    const count = countTime(asked, rowsOf(pending));
    expect([count.isSettled, count.sums.pulses[Class.pending], count.pulses]).toEqual([false, 15, 90]);
    expect(count.says).toContain('ask again');
    expect(countTime(asked, rowsOf(all, { classAtEnd: Class.pending })).isSettled).toBe(false);
  });
});
