/** Every view on a tablet with all that can be opened in it open: contrast, names, targets for gloves, nothing cut off. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab } from './browser.js';
import { startLivePlant, type LivePlant } from './live-plant.js';
import { findSmallTargets, measureOverflow } from './measure.js';
import { VIEW_CASES } from './view-list.js';

const PATIENCE_MS = 30_000;
const TABLET = { width: 1024, height: 768 };

/** Unfolds what is folded, and opens the form behind each first button that has one. Returns how much was opened. */
async function openAll(page: Page): Promise<number> {
  let opened = await page.evaluate(() => {
    const folded = [...document.querySelectorAll('details:not([open])')];
    for (const each of folded) each.setAttribute('open', '');
    return folded.length;
  });
  const closed = page.locator('button[aria-expanded=false]:enabled');
  // an open form hides none of the others: each alarm has one at a time
  for (const name of ['Acknowledge…', 'Shelve…', 'Out of service…']) {
    const button = closed.filter({ hasText: name }).first();
    if ((await button.count()) === 0) continue;
    await button.click();
    await page.waitForSelector('.act-form');
    opened += 1;
  }
  return opened;
}

describe.runIf(hasBrowser('The tests of opened forms are'))('a view with everything open', () => {
  let plant: LivePlant;
  let browser: Browser;
  let openedInAll = 0;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await plant?.stop();
  });

  const cases = VIEW_CASES.filter(({ isBare }) => isBare !== true).map((view) => [view.name, view] as const);

  it.each(cases)('%s is fit for a tablet and gloves, light and dim', async (_, { path, ready }) => {
    for (const colorScheme of ['light', 'dark'] as const) {
      const tab = await openTab(browser, plant.http, { viewport: TABLET, hasTouch: true, colorScheme });
      await tab.page.goto(path);
      await tab.page.waitForSelector(ready, { timeout: PATIENCE_MS });
      openedInAll += await openAll(tab.page);
      expect(await findViolations(tab.page), colorScheme).toEqual([]);
      expect(await findSmallTargets(tab.page), colorScheme).toEqual([]);
      expect(await measureOverflow(tab.page), colorScheme).toBe(0);
      expect(tab.errors).toEqual([]);
      await tab.close();
    }
  });

  it('had something to open', () => {
    expect(openedInAll).toBeGreaterThan(2 * 10);
  });
});
