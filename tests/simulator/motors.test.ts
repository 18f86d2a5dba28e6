/** What motors and drives do and say, and where the pulses come from. */
import { describe, expect, test } from 'vitest';
import { findWear } from '../../simulator/discharge.js';
import { driveStatesOf, makeScenario, runHours, START } from './plants.js';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const LISTED = {
  kind: 'listed' as const,
  runs: [
    [10, 30],
    [40, 50],
  ] as [number, number][],
};

describe('a motor', () => {
  test('runs when it is told to, with a ramp before and after', () => {
    const { truth } = runHours(makeScenario({}, { duty: LISTED }), 1);
    const { edges, transients } = truth.motors.pump!;
    expect(edges.map(({ state }) => state)).toEqual([
      'stopped',
      'starting',
      'running',
      'stopping',
      'stopped',
      'starting',
      'running',
      'stopping',
      'stopped',
    ]);
    expect(edges[1]!.at).toBe(START + 10 * MINUTE);
    expect(edges[3]!.at).toBe(START + 30 * MINUTE);
    expect(transients.map(({ kind }) => kind)).toEqual(['start', 'stop', 'start', 'stop']);
  });

  test('trips into fault without a ramp', () => {
    const { truth } = runHours(makeScenario({}, { duty: { ...LISTED, tripShare: 1 } }), 1);
    expect(truth.motors.pump!.transients.map(({ kind }) => kind)).toEqual(['start', 'trip', 'start', 'trip']);
  });

  test('jogs, is bypassed, is warmed: every edge is in the truth', () => {
    const jogged = runHours(
      makeScenario({}, { duty: { kind: 'standstill', jogs: { atMinutes: [20], edges: 6 } } }),
      1,
    );
    expect(jogged.truth.motors.pump!.edges).toHaveLength(7);
    const bypassed = runHours(
      makeScenario({}, { duty: { kind: 'continuous', bypass: { atMinutes: [20] } } }),
      1,
    );
    const states = driveStatesOf(bypassed.messages).map(
      ({ payload }) => `${payload.state} ${payload.modulating}`,
    );
    expect(new Set(states)).toEqual(new Set(['running true', 'running false']));
    const warmed = runHours(
      makeScenario({}, { duty: { kind: 'standstill', preheat: { atMinutes: [20] } } }),
      1,
    );
    expect(warmed.truth.motors.pump!.edges.map(({ modulating }) => modulating)).toEqual([false, true, false]);
    expect(warmed.truth.sensors['pump/de']!.byCause.own).toBeGreaterThan(0);
    expect(warmed.truth.sensors['pump/de']!.runningPulses).toBe(0);
  });

  test('runs about the share of time that its cycle says', () => {
    const { truth } = runHours(makeScenario({}, { duty: { runMinutes: 30, stopMinutes: 10 } }), 400);
    expect(truth.motors.pump!.runningMs / (400 * HOUR)).toBeCloseTo(0.75, 1);
  });
});

describe('a drive', () => {
  test('that reports on change says each edge once, with its time', () => {
    const { messages, truth } = runHours(
      makeScenario({}, { duty: LISTED, speed: { profile: 'constant' }, drive: { reporting: 'change' } }),
      1,
    );
    const told = driveStatesOf(messages);
    const { edges } = truth.motors.pump!;
    expect(told.map(({ payload }) => payload.state)).toEqual(edges.map(({ state }) => state));
    expect(told.map(({ payload }) => payload.since)).toEqual(edges.map(({ at }) => at));
    expect(told.every(({ retain }) => retain)).toBe(true);
  });

  test('with a heartbeat repeats itself', () => {
    const { messages } = runHours(
      makeScenario({}, { drive: { reporting: 'heartbeat', heartbeatMs: 5_000 } }),
      1,
    );
    expect(driveStatesOf(messages).length).toBeGreaterThanOrEqual(720);
  });

  test('that is polled never says when a state was entered', () => {
    const { messages } = runHours(
      makeScenario({}, { duty: LISTED, drive: { reporting: 'polled', pollMs: 4_000 } }),
      1,
    );
    const told = driveStatesOf(messages);
    expect(told.length).toBeGreaterThan(890);
    expect(told.some(({ payload }) => 'since' in payload)).toBe(false);
  });

  test('may never say that it is starting or stopping', () => {
    const { messages } = runHours(
      makeScenario({}, { duty: LISTED, drive: { sends: { starting: false } } }),
      1,
    );
    expect(new Set(driveStatesOf(messages).map(({ payload }) => payload.state))).toEqual(
      new Set(['stopped', 'running']),
    );
    const first = driveStatesOf(messages).find(({ payload }) => payload.state === 'running');
    expect(first?.payload.since).toBe(START + 10 * MINUTE);
  });

  test('is silent when nobody reports it', () => {
    const { messages } = runHours(makeScenario({}, { drive: { reporting: 'none' } }), 1);
    expect(messages.some(({ client }) => client === 'pump-drive')).toBe(false);
  });

  test('leaves a will when its reporter goes, and comes back with the state and its since', () => {
    const drive = { reporting: 'change' as const, outages: { atMinutes: [25], minutes: 10 } };
    const { messages } = runHours(
      makeScenario({}, { duty: LISTED, speed: { profile: 'constant' }, drive }),
      1,
    );
    const presence = messages.filter(({ topic }) => topic === 'works/in/pump/drive/presence');
    expect(presence.map(({ payload }) => payload)).toEqual([
      { online: true },
      { online: false },
      { online: true },
    ]);
    const back = driveStatesOf(messages).find(({ arrived }) => arrived > START + 35 * MINUTE)!;
    expect(back.payload.state).toBe('stopped');
    expect(back.payload.since).toBeGreaterThan(START + 30 * MINUTE);
    expect(back.payload.since).toBeLessThan(START + 31 * MINUTE);
  });
});

describe('pulses', () => {
  const plain = { speedExponent: 0, temperaturePerK: 0, startPulses: 0, stopPulses: 0, backgroundPerMin: 0 };
  const withDischarge = (discharge: object, motor: object = {}) =>
    makeScenario({}, { ...motor, positions: { de: { discharge: { ...plain, ...discharge } } } });

  test('come at the rate of the bearing while the motor runs, and not otherwise', () => {
    const { truth, query } = runHours(withDischarge({ ratePerMin: 60 }, { duty: LISTED }), 1);
    const { runningPulses, runningMs, counted } = truth.sensors['pump/de']!;
    expect(Math.abs((runningPulses * MINUTE) / runningMs - 60)).toBeLessThan(5 * Math.sqrt(60 / 30));
    expect(counted).toBe(runningPulses);
    expect(query.count('pump/de', START, START + 10 * MINUTE)).toBe(0);
  });

  test('of one spread of rates are Poisson without bursts, and far wider with them', () => {
    const spread = (discharge: object): number => {
      const { minutes } = runHours(withDischarge({ ratePerMin: 30, ...discharge }), 20).truth.sensors[
        'pump/de'
      ]!;
      const counts = minutes.runningPulses.slice(1, -1);
      const mean = counts.reduce((a, b) => a + b, 0) / counts.length;
      return counts.reduce((sum, count) => sum + (count - mean) ** 2, 0) / counts.length / mean;
    };
    expect(spread({})).toBeLessThan(1.2);
    expect(spread({})).toBeGreaterThan(0.8);
    expect(spread({ bursts: { perHour: 6, meanSeconds: 60, factor: 8 } })).toBeGreaterThan(4);
  });

  test('follow speed, warmth and wear', () => {
    const fast = runHours(
      withDischarge({ ratePerMin: 100, speedExponent: 2 }, { speed: { profile: 'constant', share: 0.5 } }),
      5,
    );
    expect(fast.truth.sensors['pump/de']!.counted / 300 / 25).toBeCloseTo(1, 1);
    const warm = { ambientC: 20, riseC: 40, minutes: 1 };
    const hot = runHours(withDischarge({ ratePerMin: 100, temperaturePerK: 0.02 }, { temperature: warm }), 5);
    expect(hot.truth.sensors['pump/de']!.counted / 300 / 140).toBeCloseTo(1, 1);
    const worn = runHours(withDischarge({ ratePerMin: 100, condition: [{ atMinute: 60, factor: 5 }] }), 2);
    expect(worn.query.count('pump/de', START, START + HOUR) / 6_000).toBeCloseTo(1, 1);
    expect(worn.query.count('pump/de', START + HOUR, START + 2 * HOUR) / 30_000).toBeCloseTo(1, 1);
  });

  test('rise along the ramp of the condition', () => {
    const wish = {
      condition: [
        { atMinute: 10, factor: 5, rampMinutes: 20 },
        { atMinute: 50, factor: 1 },
      ],
    };
    expect([0, 10, 20, 30, 49, 50].map((minute) => findWear(wish, minute))).toEqual([1, 1, 3, 5, 5, 1]);
  });

  test('come with starts and stops, within the ramps', () => {
    const { truth, query } = runHours(
      withDischarge({ ratePerMin: 0, startPulses: 400, stopPulses: 200 }, { duty: LISTED }),
      1,
    );
    const { byCause, runningPulses } = truth.sensors['pump/de']!;
    expect(byCause.start / 800).toBeCloseTo(1, 0);
    expect(byCause.stop / 400).toBeCloseTo(1, 0);
    expect(runningPulses).toBe(0);
    const [start] = truth.motors.pump!.transients;
    expect(query.count('pump/de', start!.from, start!.to)).toBeGreaterThan(300);
  });

  test('of neighbours come within their click, of the site to all sensors at once', () => {
    const listener = {
      duty: { kind: 'standstill' as const },
      positions: { de: { discharge: { ...plain, crosstalk: { from: ['pump'], switchingPulses: 50 } } } },
    };
    const scenario = makeScenario(
      {},
      { duty: LISTED },
      {
        motors: { pump: { duty: LISTED, positions: { de: null } }, fan: listener },
        siteBursts: [{ atMinutes: [5], meanSeconds: 20, pulsesPerS: 30 }],
      },
    );
    const { truth, query } = runHours(scenario, 1);
    const fan = truth.sensors['fan/de']!;
    expect(fan.byCause.crosstalk).toBeGreaterThan(140);
    const [start] = truth.motors.pump!.transients;
    expect(query.count('fan/de', start!.from, start!.from + 400)).toBeGreaterThan(25);
    expect(fan.byCause.site).toBeGreaterThan(400);
    expect(query.count('pump/de', truth.siteBursts[0]!.at, truth.siteBursts[0]!.to!)).toBeGreaterThan(400);
  });
});
