/** The time chart before a plant that lives: it goes with the time, and counts over a set time are those of the gateway. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { hasBrowser, openBrowser, openTab } from './browser.js';
import { startLivePlant, type LivePlant } from './live-plant.js';

const PATIENCE_MS = 60_000;
const HOUR_MS = 3_600_000;

interface SeriesAnswer {
  readonly sensor: string;
  readonly points: readonly { readonly end: string; readonly running_ms: number }[];
}

describe.runIf(hasBrowser('The tests of the live chart in the browser are'))(
  'the time chart of a living plant',
  () => {
    let plant: LivePlant;
    let browser: Browser;
    let page: Page;
    const errors: string[] = [];
    beforeAll(async () => {
      [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
      const tab = await openTab(browser, plant.http);
      page = tab.page;
      page.setDefaultTimeout(PATIENCE_MS);
      page.on('pageerror', (error) => errors.push(String(error)));
    }, 180_000);
    afterAll(async () => {
      await browser?.close();
      await plant?.stop();
    });

    it('goes on by itself: newer buckets come without a touch', async () => {
      const newest: number[] = [];
      page.on('response', (response) => {
        if (!response.url().includes('/api/v1/series')) return;
        void response.json().then(
          ({ sensor, points }: SeriesAnswer) => {
            const last = points.at(-1);
            if (sensor.endsWith('/de') && last !== undefined) newest.push(Date.parse(last.end));
          },
          () => undefined,
        );
      });
      await page.goto(`/motor/booster-4?span=${HOUR_MS}`);
      await page.waitForSelector('.time-chart[data-points]');
      const end = Date.now() + PATIENCE_MS;
      while (Date.now() < end && (newest.length < 3 || newest.at(-1)! <= newest[0]!))
        await page.waitForTimeout(500);
      expect(newest.at(-1)).toBeGreaterThan(newest[0]!);
      // within a minute of now: what is newer than the last closed rollup is drawn too
      expect(Date.now() - newest.at(-1)!).toBeLessThan(60_000);
      expect(errors).toEqual([]);
    });

    it('a count of ten seconds from now on is done, and says what a portable counter would see', async () => {
      await page.locator('.count-panel select').last().selectOption('10000');
      await page.click('.count-panel button:has-text("Start")');
      await page.waitForSelector('.count-panel [role=status]:has-text("done")');
      expect(await page.locator('.count-result').last().innerText()).toMatch(/pulses in \d+ increments/);
    });

    it('counts between two marks are the same as over HTTP', async () => {
      const to = Date.now() - 120_000;
      await page.goto(`/motor/booster-4?from=${to - 1_200_000}&to=${to}`);
      await page.waitForSelector('.time-chart[data-points]');
      const asked = page.waitForRequest((request) =>
        request.url().includes('/api/v1/counts?sensor=booster-4%2Fde'),
      );
      await page.click('.count-panel button:has-text("Set A")');
      await page.click('.count-panel button:has-text("Set B")');
      await page.click('.count-panel button:has-text("Count")');
      const answer = await fetch((await asked).url());
      const { pulses, increments } = (await answer.json()) as { pulses: number; increments: number };
      expect(increments).toBeGreaterThan(10);
      await page.waitForSelector(`.count-result:has-text("in ${increments} increments")`);
      const told = (await page.locator('.count-result').first().innerText()).replaceAll(',', '');
      expect(told).toContain(`${pulses} pulses`);
    });
  },
);
