/**
 * Memory of the page over simulated time: flat, or it grows with what the page was told. Some hours of events with each
 * push, weeks by command: npm run soak (TALLYPOST_SOAK_HOURS says how many hours).
 */
import type { Browser, CDPSession } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { hasBrowser, openBrowser, openTab } from './browser.js';
import { startFastStream, type FastStream } from './fast-stream.js';
import { startLivePlant, type LivePlant } from './live-plant.js';

const HOUR_MS = 3_600_000;
const HOURS = Number(process.env['TALLYPOST_SOAK_HOURS'] ?? '6');
const ROUNDS = 4;
/** what the first round may still fill: strips, caches, compiled code */
const GROWTH_SHARE_MOST = 0.15;
const GROWTH_BYTES_MOST = 1_500_000;
const PATIENCE_MS = 60_000 + 10_000 * HOURS;
/** a chart or a list is loaded anew so often */
const LOAD_EVERY_MS = HOUR_MS / 4;
const ANSWER_MS_MOST = 15_000;
const ENDED_MS_MOST = 1_000;

/** Views that load with time, what they ask for, and what they show when all of it is there. */
const LOADING = [
  ['/motor/booster-4', '/api/v1/series', '.time-chart[data-points]'],
  ['/sisters/boosters', '/api/v1/sisters/', '.interval-chart .mark'],
  ['/gateway', '/api/v1/gateway', '[data-part="configuration"] code'],
  ['/wiring', '/api/v1/wiring', '.wiring-chain-table tbody tr'],
] as const;

interface Weight {
  readonly heap: number;
  readonly nodes: number;
  readonly listeners: number;
}

async function weigh(session: CDPSession): Promise<Weight> {
  for (let i = 0; i < 3; i++) await session.send('HeapProfiler.collectGarbage');
  const { usedSize } = await session.send('Runtime.getHeapUsage');
  const { nodes, jsEventListeners } = await session.send('Memory.getDOMCounters');
  return { heap: usedSize, nodes, listeners: jsEventListeners };
}

/** Not more than what the first round may still fill; the console tells the figures. */
function expectFlat(path: string, told: number, weights: readonly Weight[]): void {
  const [first, last] = [weights[0]!, weights.at(-1)!];
  console.log(
    `${path}: ${told} events; heap ${weights.map(({ heap }) => (heap / 1e6).toFixed(2)).join(', ')} MB; ` +
      `nodes ${weights.map(({ nodes }) => nodes).join(', ')}`,
  );
  expect(told).toBeGreaterThan((HOURS * HOUR_MS) / 10_000);
  expect(last.heap - first.heap).toBeLessThan(Math.max(GROWTH_BYTES_MOST, GROWTH_SHARE_MOST * first.heap));
  expect(last.nodes).toBeLessThan(first.nodes * (1 + GROWTH_SHARE_MOST) + 200);
  expect(last.listeners).toBeLessThan(first.listeners * (1 + GROWTH_SHARE_MOST) + 100);
}

describe.runIf(hasBrowser('The soak of the page is'))(`${HOURS} simulated hours of events`, () => {
  let plant: LivePlant;
  let browser: Browser;
  let stream: FastStream;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
    stream = await startFastStream(plant.http);
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await stream?.close();
    await plant?.stop();
  });

  it.each(['/', '/kiosk', '/alarms'])(
    'leave the memory of %s as it was',
    async (path) => {
      const tab = await openTab(browser, stream.http);
      await tab.page.goto(path);
      await tab.page.waitForSelector('.link-state:has-text("Live")');
      const session = await tab.page.context().newCDPSession(tab.page);
      const weights: Weight[] = [];
      let told = 0;
      for (let round = 0; round < ROUNDS; round++) {
        const mark = `soak.round-${round}`;
        told += await stream.run((HOURS * HOUR_MS) / ROUNDS, mark);
        // what the socket took has reached the page when the last of it is shown
        const again = setInterval(() => stream.tellMark(mark), 2_000);
        await tab.page
          .waitForSelector(`[data-alarm="${mark}"]`, { timeout: PATIENCE_MS })
          .finally(() => clearInterval(again));
        weights.push(await weigh(session));
      }
      expectFlat(path, told, weights);
      expect(tab.errors).toEqual([]);
      await tab.close();
    },
    PATIENCE_MS,
  );

  it.each(LOADING)(
    'leave the memory of %s as it was, loaded anew each quarter-hour',
    async (path, asked, ready) => {
      const tab = await openTab(browser, stream.http);
      await tab.page.goto(path);
      await tab.page.waitForSelector(ready);
      await tab.page.waitForSelector('.link-state:has-text("Live")');
      const session = await tab.page.context().newCDPSession(tab.page);
      const weights: Weight[] = [];
      let told = 0;
      const loads = Math.max(ROUNDS, Math.ceil((HOURS * HOUR_MS) / LOAD_EVERY_MS));
      for (let load = 1; load <= loads; load++) {
        told += await stream.run((HOURS * HOUR_MS) / loads, 'soak.load');
        const answered = tab.page.waitForResponse((answer) => answer.url().includes(asked), {
          timeout: ANSWER_MS_MOST,
        });
        await stream.tellAgain();
        const answer = await answered;
        // one that the page gave up for a newer one never ends
        await Promise.race([answer.finished(), tab.page.waitForTimeout(ENDED_MS_MOST)]);
        if (load % Math.ceil(loads / ROUNDS) === 0) weights.push(await weigh(session));
      }
      expectFlat(path, told, weights);
      expect(tab.errors).toEqual([]);
      await tab.close();
    },
    PATIENCE_MS,
  );
});
