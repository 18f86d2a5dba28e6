/** Alarms that become known hours after the fact: an outage of the network, and the readings that come after it. */
import { describe, expect, it } from 'vitest';
import type { JournalEntry } from '../../src/core/alarm-rows.js';
import { sayUtc } from '../../src/core/utc-text.js';
import { Hall } from '../support/alarm-hall.js';
import { rateAlarm, sensorPlan } from '../support/plans.js';

const SENSOR = 'booster-1/de';
const ALARM = 'booster-1.de-rate-high';

/** An hour of quiet running, then a network outage of three hours of which `loud` hours (from the first on) lie above. */
function outage(loudHours: readonly number[]): Hall {
  const hall = new Hall({ motors: ['booster-1'], plan: { rateAlarms: [rateAlarm(SENSOR, 300)] } }).run(3600);
  hall.keptBack.set(SENSOR, []);
  for (let hour = 0; hour < 3; hour++) {
    hall.pulses.set(SENSOR, loudHours.includes(hour) ? 100 : 1);
    hall.run(3600);
  }
  return hall;
}

function entriesOf(hall: Hall): JournalEntry[] {
  return hall.entries().filter(({ subject }) => subject === ALARM);
}

describe('a backlog after an outage', () => {
  it('what has returned by the time it is known is entered, and nobody is told', () => {
    const hall = outage([0]).sendKept(SENSOR).run(900);
    const entries = entriesOf(hall);
    expect(entries.map(({ what, annunciated }) => [what, annunciated])).toEqual([
      ['raised', false],
      ['returned', false],
    ]);
    for (const { at, detectedAt } of entries) expect(detectedAt - at).toBeGreaterThan(3_600_000);
    expect(hall.store.alarms.get(ALARM)).toMatchObject({ state: 'normal', annunciatedAt: null });
  });

  it('what still stands is told once, with the time since when', () => {
    const hall = outage([1, 2]).sendKept(SENSOR).run(900);
    const told = entriesOf(hall).filter(({ annunciated }) => annunciated);
    expect(entriesOf(hall).map(({ what }) => what)).toEqual(['raised', 'annunciated']);
    expect(told).toHaveLength(1);
    const record = hall.store.alarms.get(ALARM)!;
    expect(told[0]!.text).toContain(`it has stood since ${sayUtc(record.since!)}`);
    expect(told[0]!.at - record.since!).toBeGreaterThan(3_600_000);
    expect(record).toMatchObject({ state: 'unacknowledged', annunciatedAt: told[0]!.at });
  });

  it('is waited for: a backlog that drips in tells nothing that its end takes back', () => {
    const hall = outage([0]);
    const kept = hall.keptBack.get(SENSOR)!;
    hall.keptBack.set('later', kept.splice(0));
    while (hall.keptBack.get('later')!.length > 0) {
      hall.keptBack.set(SENSOR, hall.keptBack.get('later')!.splice(0, 60));
      hall.sendKept(SENSOR).keptBack.set(SENSOR, []);
      hall.run(10);
    }
    hall.sendKept(SENSOR).run(900);
    expect(entriesOf(hall).map(({ what, annunciated }) => [what, annunciated])).toEqual([
      ['raised', false],
      ['returned', false],
    ]);
  });

  it('is judged too when live readings came before it', () => {
    const hall = outage([0]);
    hall.keptBack.set('later', hall.keptBack.get(SENSOR)!);
    hall.keptBack.delete(SENSOR);
    hall.pulses.set(SENSOR, 1);
    hall.run(600);
    const live = hall.keptBack.get('later')!;
    expect(live.length).toBe(1080);
    hall.keptBack.set(SENSOR, live);
    hall.sendKept(SENSOR).run(900);
    expect(entriesOf(hall).map(({ what, annunciated }) => [what, annunciated])).toEqual([
      ['raised', false],
      ['returned', false],
    ]);
    expect(entriesOf(hall)[0]!.detectedAt - entriesOf(hall)[0]!.at).toBeGreaterThan(2 * 3_600_000);
  });

  it('an alarm that stood before the outage returns at the time at which it did', () => {
    const hall = new Hall({ motors: ['booster-1'], plan: { rateAlarms: [rateAlarm(SENSOR, 300)] } });
    hall.pulses.set(SENSOR, 100);
    hall.run(1800);
    expect(hall.store.alarms.get(ALARM)?.active).toBe(true);
    hall.keptBack.set(SENSOR, []);
    hall.pulses.set(SENSOR, 1);
    const fellAt = hall.now;
    hall.run(7200).sendKept(SENSOR).run(600);
    const back = entriesOf(hall).find(({ what }) => what === 'returned')!;
    expect(back.at - fellAt).toBeLessThan(3_600_000);
    expect(back.detectedAt - back.at).toBeGreaterThan(3_600_000);
  });

  it('the wait goes on over a restart, and ends once', () => {
    const hall = outage([1, 2]).sendKept(SENSOR).run(30).restart(0).run(900);
    expect(hall.told().filter((id) => id === ALARM)).toEqual([ALARM]);
  });

  it('acknowledged while it waits: a person has seen it, and nobody is told again', () => {
    const hall = outage([1, 2]).sendKept(SENSOR).run(30);
    expect(hall.store.alarms.get(ALARM)).toMatchObject({ state: 'unacknowledged', annunciatedAt: null });
    hall.acknowledge(ALARM).run(900);
    expect(hall.told().filter((id) => id === ALARM)).toEqual([]);
    expect(hall.store.alarms.get(ALARM)).toMatchObject({ state: 'acknowledged' });
  });
});

describe('a time in a sentence', () => {
  it.each([
    [0, '1970-01-01 00:00 UTC'],
    [Date.UTC(2000, 1, 29, 23, 59, 59), '2000-02-29 23:59 UTC'],
    [Date.UTC(2026, 11, 31, 6, 5), '2026-12-31 06:05 UTC'],
    [Date.UTC(1999, 2, 1) - 1, '1999-02-28 23:59 UTC'],
  ])('%i is %s', (ms, text) => expect(sayUtc(ms)).toBe(text));

  it('agrees with the calendar on every day of two centuries', () => {
    for (let day = -36_525; day < 36_525; day++) {
      const ms = day * 86_400_000 + 3_723_000;
      expect(sayUtc(ms)).toBe(`${new Date(ms).toISOString().slice(0, 16).replace('T', ' ')} UTC`);
    }
  });
});

describe('a sensor whose readings are waited for longer than a backlog takes', () => {
  it('is punctual all the same: told at once', () => {
    const sensors = new Map(
      ['de', 'nde'].map((position) => [
        `booster-1/${position}`,
        sensorPlan('booster-1', position, { reorderWaitMs: 900_000 }),
      ]),
    );
    const hall = new Hall({
      motors: ['booster-1'],
      plan: { sensors, rateAlarms: [rateAlarm(SENSOR, 300)] },
    }).run(3600);
    hall.pulses.set(SENSOR, 100);
    hall.run(7200);
    const entries = entriesOf(hall);
    expect(entries.map(({ what, annunciated }) => [what, annunciated])).toEqual([['raised', true]]);
    expect(entries[0]!.detectedAt - entries[0]!.at).toBeGreaterThan(600_000);
  });
});
