/** Each fault does what it says, and nothing else: most runs here have exactly one. */
import { describe, expect, test } from 'vitest';
import type { ReadingBody } from './plants.js';
import { makeScenario, readingsOf, runHours, START } from './plants.js';

const MINUTE = 60_000;
const bodies = (messages: Parameters<typeof readingsOf>[0]): ReadingBody[] =>
  readingsOf(messages).map(({ payload }) => payload);
const steps = (values: readonly number[]): number[] => values.slice(1).map((value, i) => value - values[i]!);

describe('a device', () => {
  test('reports at its interval within its jitter, seq by seq', () => {
    const { messages } = runHours(makeScenario({ intervalMs: 7_000, jitterMs: 300 }), 2);
    const readings = bodies(messages);
    expect(steps(readings.map(({ at }) => at!)).every((ms) => ms >= 6_700 && ms <= 7_300)).toBe(true);
    expect(new Set(steps(readings.map(({ seq }) => seq!)))).toEqual(new Set([1]));
    expect(readings.every(({ at, up_ms }) => at! - up_ms! === readings[0]!.at! - readings[0]!.up_ms!)).toBe(
      true,
    );
    expect(readings.length).toBeGreaterThan(1_020);
  });

  test('sends only the fields that it was made to send', () => {
    const sends = { device: false, seq: false, boot: false, at: false, upMs: false, temperature: false };
    const { messages } = runHours(makeScenario({ sends }), 0.1);
    expect(Object.keys(bodies(messages)[0]!)).toEqual(['count']);
  });

  test('starts from zero with the next boot after a reboot', () => {
    const { messages, truth } = runHours(
      makeScenario({ reboots: { atMinutes: [20, 40], offSeconds: 20 } }),
      1,
    );
    const readings = bodies(messages);
    const firsts = readings.filter(({ seq }) => seq === 0);
    expect(firsts.map(({ boot }) => boot)).toEqual([readings[0]!.boot! + 1, readings[0]!.boot! + 2]);
    expect(firsts.every(({ count, up_ms }) => count < 30 && up_ms! <= 10_000)).toBe(true);
    const { segments, faults, lostToPower } = truth.sensors['pump/de']!;
    expect(segments.map(({ startsAtZero }) => startsAtZero)).toEqual([false, true, true]);
    expect(faults.filter(({ kind }) => kind === 'reboot').map(({ at }) => at)).toEqual([
      START + 20 * MINUTE,
      START + 40 * MINUTE,
    ]);
    expect(lostToPower).toBeGreaterThan(0);
    expect(messages.filter(({ event }) => event === 'disconnect')).toHaveLength(2);
  });

  test('skips a boot number where it was restarted twice', () => {
    const { messages, truth } = runHours(makeScenario({ reboots: { atMinutes: [20], skipShare: 1 } }), 1);
    const boots = [...new Set(bodies(messages).map(({ boot }) => boot!))];
    expect(boots[1]! - boots[0]!).toBe(2);
    expect(truth.sensors['pump/de']!.faults[0]!.kind).toBe('skipped-boot');
  });

  test('is another one after a swap, and the will names the old one', () => {
    const { messages } = runHours(makeScenario({ swaps: { atMinutes: [30], offSeconds: 100 } }), 1);
    expect([...new Set(bodies(messages).map(({ device }) => device))]).toEqual([
      'SN-pump-de-1',
      'SN-pump-de-2',
    ]);
    const will = messages.find(({ isWill }) => isWill);
    expect(will?.payload).toMatchObject({ online: false, device: 'SN-pump-de-1' });
    expect(will?.retain).toBe(true);
  });

  test('keeps its readings through an outage and sends them afterwards, oldest first', () => {
    const scenario = makeScenario({ outages: { atMinutes: [20], minutes: 10 } });
    const readings = readingsOf(runHours(scenario, 1).messages);
    expect(new Set(steps(readings.map(({ payload }) => payload.seq!)))).toEqual(new Set([1]));
    const late = readings.filter(({ arrived, payload }) => arrived - payload.at! > 15_000);
    expect(late.length).toBeGreaterThan(57);
    expect(late.every(({ arrived }) => arrived >= START + 30 * MINUTE)).toBe(true);
  });

  test('sends live readings before its backlog when made so', () => {
    const outages = { atMinutes: [20], minutes: 10, replay: 'live-first' as const };
    const seqs = bodies(runHours(makeScenario({ outages }), 1).messages).map(({ seq }) => seq!);
    expect(steps(seqs).some((step) => step > 50)).toBe(true);
    expect(steps(seqs).some((step) => step < -50)).toBe(true);
    expect(steps([...seqs].sort((a, b) => a - b)).every((step) => step === 1)).toBe(true);
  });

  test('forgets the oldest readings when the buffer is full, and all when the power goes', () => {
    const full = bodies(
      runHours(makeScenario({ outages: { atMinutes: [20], minutes: 10, buffer: 10 } }), 1).messages,
    );
    expect(Math.max(...steps(full.map(({ seq }) => seq!)))).toBeGreaterThan(45);
    const device = { outages: { atMinutes: [20], minutes: 10 }, reboots: { atMinutes: [25] } };
    const { messages, truth } = runHours(makeScenario(device), 1);
    const before = bodies(messages).filter(
      ({ at }) => at! > START + 20 * MINUTE && at! < START + 25 * MINUTE,
    );
    expect(before).toEqual([]);
    const [first, second] = truth.sensors['pump/de']!.segments;
    expect(first!.sent - first!.delivered).toBeGreaterThan(25);
    expect(second!.delivered).toBe(second!.sent);
  });

  test('sends what it buffered before a power cut that came after the outage', () => {
    const device = { outages: { atMinutes: [20], minutes: 5 }, reboots: { atMinutes: [26] } };
    const { truth } = runHours(makeScenario(device), 1);
    for (const { sent, delivered } of truth.sensors['pump/de']!.segments) expect(delivered).toBe(sent);
  });

  test('says nothing during a silence, and counts on', () => {
    const { messages, query } = runHours(makeScenario({ silences: { atMinutes: [20], minutes: 10 } }), 1);
    const readings = bodies(messages);
    const gap = readings.findIndex(({ at }, i) => at! - (readings[i - 1]?.at ?? at!) > 5 * MINUTE);
    const [before, after] = [readings[gap - 1]!, readings[gap]!];
    expect(after.seq! - before.seq!).toBe(1);
    expect(after.count - before.count).toBe(query.count('pump/de', before.at!, after.at!));
    expect(messages.filter(({ event }) => event === 'disconnect')).toHaveLength(0);
  });

  test('shows a wrong time when its clock is off, drifts or steps', () => {
    const clock = { offsetMs: 500, driftPpm: 100, steps: [{ atMinute: 30, byMs: -90_000 }] };
    const readings = readingsOf(runHours(makeScenario({ clock, sends: { at: true } }), 1).messages);
    const error = readings.map(
      ({ payload }) =>
        payload.at! - (readings[0]!.payload.at! - readings[0]!.payload.up_ms! + payload.up_ms!),
    );
    expect(error[100]! / 1_000).toBeCloseTo(0.1, 1);
    expect(error[error.length - 1]!).toBeLessThan(-89_500);
    expect(steps(readings.map(({ payload }) => payload.at!)).filter((step) => step < 0)).toHaveLength(1);
  });

  test('tears a count now and then, and the next one is whole', () => {
    const { messages, truth } = runHours(makeScenario({ tornShare: 0.02, initialCount: 100 }), 2);
    const counts = bodies(messages).map(({ count }) => count);
    const torn = counts.filter((count) => count > 2 ** 31);
    expect(torn.length).toBeGreaterThan(5);
    expect(
      counts.filter((count) => count < 2 ** 31).every((count, i, whole) => count >= (whole[i - 1] ?? 0)),
    ).toBe(true);
    expect(truth.sensors['pump/de']!.segments[0]!.lastDelivered!.unwrapped).toBeLessThan(10_000);
  });

  test('flags every reading that its function check could touch', () => {
    const checks = { atMinutes: [20], seconds: 65, pulsesPerS: 10 };
    const { messages, truth, query } = runHours(makeScenario({ checks }), 1);
    const readings = bodies(messages);
    const flagged = readings.filter(({ check }) => check);
    expect(flagged.length).toBeGreaterThanOrEqual(7);
    const from = readings[readings.indexOf(flagged[0]!) - 1]!.at!;
    const byCause = query.countByCause('pump/de', from, flagged[flagged.length - 1]!.at!);
    expect(byCause.check).toBe(truth.sensors['pump/de']!.byCause.check);
    expect(byCause.check).toBeGreaterThan(500);
  });

  test('loses pulses in its dead time as a non-paralysable counter does', () => {
    const quiet = { bursts: { perHour: 0 }, speedExponent: 0, temperaturePerK: 0, backgroundPerMin: 0 };
    const motor = {
      positions: { de: { discharge: { ...quiet, ratePerMin: 30_000 }, device: { deadTimeUs: 500 } } },
    };
    const sensor = runHours(makeScenario({}, motor), 0.5).truth.sensors['pump/de']!;
    const n = 500;
    const expected = n / (1 + n * 500e-6);
    expect(sensor.counted / 1_800 / expected).toBeCloseTo(1, 1);
    expect((sensor.counted + sensor.lostToDeadTime) / 1_800 / n).toBeCloseTo(1, 1);
  });

  test('sends rubbish beside its readings', () => {
    const { messages } = runHours(makeScenario({ garbageShare: 0.2 }), 0.2);
    const rubbish = messages.filter(({ payload }) => Buffer.isBuffer(payload));
    expect(rubbish.length).toBeGreaterThan(5);
    const [first] = rubbish;
    expect(() => JSON.parse((first!.payload as Buffer).toString()) as unknown).toThrow();
  });
});

describe('the network', () => {
  test('drops, doubles and delays, and says so', () => {
    const network = {
      dropShare: 0.1,
      duplicateShare: 0.1,
      reorderShare: 0.1,
      reorderMs: 60_000,
      delayMs: 100,
    };
    const { messages, truth } = runHours(makeScenario({}, {}, { network }), 4);
    const { sent, delivered } = truth.sensors['pump/de']!.segments[0]!;
    const { dropped, duplicated, reordered } = truth.sensors['pump/de']!.passage;
    expect(sent - delivered).toBe(dropped);
    expect(truth.sensors['pump/de']!.faults.filter(({ kind }) => kind === 'drop')).toHaveLength(dropped);
    const seqs = bodies(messages).map(({ seq }) => seq!);
    expect(seqs.length).toBe(delivered + duplicated);
    expect(new Set(seqs).size).toBe(delivered);
    expect(steps(seqs).some((step) => step < 0)).toBe(true);
    for (const tally of [dropped, duplicated, reordered]) expect(tally).toBeGreaterThan(90);
  });

  test('keeps the order of a client when it only delays', () => {
    const { messages } = runHours(
      makeScenario({ intervalMs: 200 }, {}, { network: { delayMs: 3_000 } }),
      0.2,
    );
    expect(steps(bodies(messages).map(({ seq }) => seq!)).every((step) => step === 1)).toBe(true);
  });

  test('takes every client down at once in an outage of its own', () => {
    const network = { outages: { atMinutes: [10], minutes: 2 } };
    const { messages, truth } = runHours(makeScenario({}, {}, { network }), 0.5);
    const cuts = messages.filter(({ event }) => event === 'disconnect');
    expect(cuts.map(({ client }) => client).sort()).toEqual(['pump-de', 'pump-drive']);
    expect(new Set(cuts.map(({ arrived }) => arrived))).toEqual(new Set([START + 10 * MINUTE]));
    expect(messages.filter(({ isWill }) => isWill)).toHaveLength(2);
    expect(truth.motors.pump!.faults[0]!.kind).toBe('network-outage');
  });
});
