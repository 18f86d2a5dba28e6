import { describe, expect, test } from 'vitest';
import type { Message } from '../../simulator/messages.js';
import { simulate } from '../../simulator/simulation.js';
import { smallPlant } from '../../simulator/small-plants.js';
import { makeScenario, readingsOf, runHours, START } from './plants.js';

const HOUR = 3_600_000;

describe('the truth', () => {
  test('equals what the delivered counters say, segment by segment, over many small plants', () => {
    let segments = 0;
    for (let seed = 0; seed < 60; seed++) {
      const { scenario, hours } = smallPlant(seed);
      const { truth, query } = simulate(scenario, seed, hours);
      for (const [key, sensor] of Object.entries(truth.sensors)) {
        for (const {
          firstDelivered,
          lastDelivered,
          startsAtZero,
          poweredFrom,
          initialCount,
        } of sensor.segments) {
          if (firstDelivered === null || lastDelivered === null) continue;
          segments += 1;
          const between = lastDelivered.unwrapped - firstDelivered.unwrapped;
          expect(query.count(key, firstDelivered.at, lastDelivered.at)).toBe(between);
          const from = startsAtZero ? poweredFrom : truth.from;
          expect(query.count(key, from, lastDelivered.at)).toBe(lastDelivered.unwrapped - initialCount);
        }
      }
    }
    expect(segments).toBeGreaterThan(300);
  });

  test('adds up: minutes, causes and the whole run agree', () => {
    for (let seed = 100; seed < 140; seed++) {
      const { scenario, hours } = smallPlant(seed);
      const { truth, query } = simulate(scenario, seed, hours);
      for (const [key, sensor] of Object.entries(truth.sensors)) {
        const sum = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0);
        expect(sum(sensor.minutes.runningPulses)).toBe(sensor.runningPulses);
        expect(sum(sensor.minutes.runningMs)).toBe(sensor.runningMs);
        expect(sum(Object.values(sensor.byCause))).toBe(sensor.counted);
        expect(query.count(key, truth.from, truth.to, { runningOnly: true })).toBe(sensor.runningPulses);
        const middle = truth.from + 1_234_567;
        expect(query.count(key, truth.from, middle) + query.count(key, middle, truth.to)).toBe(
          sensor.counted,
        );
      }
    }
  });

  test('is what a faultless device reports, reading by reading, through every wrap', () => {
    for (const bits of [16, 32] as const) {
      const { messages, query } = runHours(
        makeScenario({ counterBits: bits, initialCount: 2 ** bits - 40 }),
        2,
      );
      const readings = readingsOf(messages);
      let wraps = 0;
      for (let i = 1; i < readings.length; i++) {
        const [before, after] = [readings[i - 1]!.payload, readings[i]!.payload];
        if (after.count < before.count) wraps += 1;
        const pulses = (after.count - before.count + 2 ** bits) % 2 ** bits;
        expect(pulses).toBe(query.count('pump/de', before.at!, after.at!));
      }
      expect(wraps).toBe(1);
    }
  });

  test('knows the state over a stretch, and none where it changes', () => {
    const { query } = runHours(makeScenario({}, { duty: { kind: 'listed', runs: [[10, 20]] } }), 1);
    expect(query.stateOver('pump', START, START + 5 * 60_000)).toEqual({
      state: 'stopped',
      modulating: false,
    });
    expect(query.stateOver('pump', START + 11 * 60_000, START + 19 * 60_000)?.state).toBe('running');
    expect(query.stateOver('pump', START, START + HOUR)).toBeNull();
    expect(query.runningMs('pump', START, START + HOUR)).toBeGreaterThan(9.7 * 60_000);
    expect(() => query.count('fan/de', START, START + 1)).toThrow('it has pump/de');
  });
});

describe('a run', () => {
  const lines = (messages: readonly Message[]): string => JSON.stringify(messages);

  test('is the same for the same seed and another for another', () => {
    for (let seed = 0; seed < 12; seed++) {
      const { scenario, hours } = smallPlant(seed);
      const first = simulate(scenario, seed, hours);
      const again = simulate(smallPlant(seed).scenario, seed, hours);
      expect(lines(again.messages)).toBe(lines(first.messages));
      expect(JSON.stringify(again.truth)).toBe(JSON.stringify(first.truth));
      expect(lines(simulate(scenario, seed + 1, hours).messages)).not.toBe(lines(first.messages));
    }
  });

  test('of one motor does not depend on its neighbours', () => {
    const alone = runHours(makeScenario(), 1);
    const pump = { duty: { kind: 'continuous' as const }, positions: { de: null } };
    const inCompany = runHours(makeScenario({}, {}, { motors: { fan: pump, pump } }), 1);
    expect(lines(readingsOf(inCompany.messages))).toBe(lines(readingsOf(alone.messages)));
  });

  test('arrives in order of time', () => {
    for (let seed = 0; seed < 30; seed++) {
      const { scenario, hours } = smallPlant(seed, { needed: ['reordering', 'outages', 'duplicates'] });
      const arrivals = simulate(scenario, seed, hours).messages.map(({ arrived }) => arrived);
      expect(arrivals.findIndex((arrived, i) => arrived < (arrivals[i - 1] ?? 0))).toBe(-1);
    }
  });
});
