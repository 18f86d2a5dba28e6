/**
 * The quality of a rate over hours in which nothing is wrong, whatever the heartbeat of the drive: the core's own rates, told
 * each second as the server does. A drive is settled up to its last message, so rates come in as late as that.
 */
import { expect, it } from 'vitest';
import { goodForMs } from '../../src/config/fresh.js';
import { parseConfig } from '../../src/config/parse.js';
import type { Fact } from '../../src/core/facts.js';
import { rateOf } from '../../src/core/rate.js';
import { openState } from '../../src/core/step.js';
import { toPlant, toRateNews } from '../../src/gateway-plc.js';
import { tellRate } from '../../src/plc/opcua-values.js';
import { Picture } from '../../src/plc/picture.js';
import { MemoryStore, runBatch } from '../support/memory-store.js';
import { newsOf, NOW } from './small-plant.js';

const MINUTES = 60;
const WARM_UP_MS = 300_000;

/** How often the rate of a sensor was told with each status, a heartbeat and an interval in seconds. */
function countStatuses(
  heartbeatS: number | null,
  intervalS: number,
  staleS: number | null,
): Map<string, number> {
  const heartbeat = heartbeatS === null ? '' : `drive: { heartbeatMs: ${heartbeatS * 1_000} }, `;
  const result = parseConfig(
    `site: works\nmotors: { pump: { ${heartbeat}positions: { de: { intervalMs: ${intervalS * 1_000} } } } }\n`,
    'plant.yaml',
  );
  if (!result.ok) throw new Error(JSON.stringify(result.problems));
  const { plan } = result;
  const plant = toPlant(plan, staleS === null ? null : staleS * 1_000);
  const picture = new Picture(plant);
  const [sensor] = plant.sensors;
  const store = new MemoryStore();
  const state = openState(plan, null);
  const start = NOW - (NOW % 10_000);
  const counts = new Map<string, number>();
  for (let second = 0; second < MINUTES * 60; second++) {
    const now = start + second * 1_000;
    const facts: Fact[] = [{ kind: 'tick', now }];
    // neither in step with the windows nor with one another
    if (second % (heartbeatS ?? Infinity) === 3 || second === 3) facts.push(driveFact(now - 300));
    if (second % intervalS === 7 % intervalS)
      facts.push(readingFact(now - 200, Math.floor(second / intervalS)));
    picture.feed = { ...picture.feed, beatAt: now, isReady: true, isLoaded: true };
    runBatch(plan, state, store, facts, ({ rates }) =>
      picture.take(newsOf({ rates: rates.map((counts) => toRateNews(rateOf(counts))) })),
    );
    if (now - start < WARM_UP_MS) continue;
    const { status } = tellRate(picture.viewSensor(sensor!, now), sensor!, (view) => view.ratePerMin, now);
    counts.set(status, (counts.get(status) ?? 0) + 1);
  }
  return counts;
}

function driveFact(at: number): Fact {
  return {
    ...{ kind: 'drive', motor: 'pump', state: 'running', modulating: true, at, since: null },
    ...{ speedRpm: null, loadPct: null, switchingKhz: null, dcLinkV: null, receivedAt: at + 300 },
  };
}

function readingFact(at: number, seq: number): Fact {
  return {
    ...{ kind: 'reading', sensor: 'pump/de', device: 'SN-1', count: 20 * seq, at, seq, boot: 1 },
    ...{ upMs: null, temperatureC: null, check: false, receivedAt: at + 200 },
  };
}

it.each([
  [null, 10, null],
  [45, 10, null],
  [50, 10, null],
  [60, 10, null],
  [45, 1, null],
  [45, 30, null],
  [60, 60, null],
  // staleMs as short as the check allows without a warning
  [null, 10, 40],
  [10, 10, 60],
])(
  'heartbeat %j s, a reading each %j s, staleMs %j s: it is never doubted',
  (heartbeatS, intervalS, staleS) => {
    const counts = countStatuses(heartbeatS, intervalS, staleS);
    expect(
      [...counts.keys()].filter((status) => status !== 'Good' && status !== 'UncertainSubNormal'),
    ).toEqual([]);
    expect(counts.size).toBeGreaterThan(0);
  },
);

it('a rate is good for as long as it gets old in good order, and never longer than it is shown', () => {
  expect(goodForMs(10_000, 55_000, 120_000)).toBe(105_000);
  expect(goodForMs(10_000, 55_000, 80_000)).toBe(70_000);
  expect(goodForMs(10_000, 55_000, 40_000)).toBe(40_000);
  expect(goodForMs(60_000, 13_000, 270_000)).toBe(180_000);
});
