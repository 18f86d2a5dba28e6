/** Alarms that come while the page is open, as they are followed, without a browser. */
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import type { AlarmBody } from '../../src/page/data/bodies.js';
import { openAlarms, takeAlarm } from '../../src/page/data/plant.js';
import { heardNews } from '../../src/page/parts/heard-news.js';
import { followArrivals } from '../../src/page/shell/arrivals.js';

const STANDING = 200;
/** longer than the pause in which arrivals are gathered */
const PAUSE_MS = 2_000;
let readCount = 0;

/** Counts how often it is looked at when all of them are put in order. */
function makeAlarm(place: number, state: AlarmBody['state']): AlarmBody {
  const facts: Partial<AlarmBody> = {
    ...{ id: `pump-${place}.de-rate-high`, motor: `pump-${place}`, sensor: `pump-${place}/de` },
    ...{ kind: 'rate-high', priority: 'low', state, grouped_under: null },
  };
  const since = {
    enumerable: true,
    get: () => {
      readCount += 1;
      return '2026-03-02T06:10:00.000Z';
    },
  };
  return Object.defineProperty(facts, 'since', since) as AlarmBody;
}

beforeAll(() => {
  vi.useFakeTimers();
  const standing = Array.from({ length: STANDING }, (_, place) => makeAlarm(place, 'unacknowledged'));
  openAlarms.value = new Map(standing.map((alarm) => [alarm.id, alarm]));
  followArrivals();
});
afterAll(() => void vi.useRealTimers());

it('a flood is followed without putting all alarms in order at each of its events', () => {
  vi.advanceTimersByTime(PAUSE_MS);
  readCount = 0;
  for (let place = 0; place < STANDING; place++) takeAlarm(makeAlarm(place, 'unacknowledged'));
  // less than to look at all of them once for each event
  expect(readCount).toBeLessThan(STANDING * STANDING);
  vi.advanceTimersByTime(PAUSE_MS);
  expect(heardNews.value).toEqual([]);
});

it('what is answered and comes again within the pause is said', () => {
  takeAlarm(makeAlarm(7, 'acknowledged'));
  takeAlarm(makeAlarm(7, 'unacknowledged'));
  vi.advanceTimersByTime(PAUSE_MS);
  expect(heardNews.value.map(({ text }) => text)).toEqual([
    `One alarm has come. Low: Rate high, pump-7, drive end. Needs an answer: ${STANDING}.`,
  ]);
});
