/** Rehearsal of a changed setpoint in the browser: text in, progress, and a picture of what would have been raised. */
import type { Browser } from 'playwright-core';
import { parse, stringify } from 'yaml';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { hasBrowser, openBrowser, openTab } from './browser.js';
import { startLivePlant, type LivePlant, type PlantFile } from './live-plant.js';

const PATIENCE_MS = 60_000;

describe.runIf(hasBrowser('The test of rehearsals in the browser is'))('a rehearsal', () => {
  let plant: LivePlant;
  let browser: Browser;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await plant?.stop();
  });

  it('draws what would have been raised beside what was, and says what is wrong with a file', async () => {
    const tab = await openTab(browser, plant.http);
    await tab.page.goto('/alarms/rehearsal');
    const text = tab.page.getByLabel('Text of the file');
    await text.fill('site: tarn-hollow\nmotors: 7\n');
    await tab.page.getByRole('button', { name: 'Rehearse' }).click();
    await tab.page.locator('.problem li').first().waitFor();
    expect(await tab.page.locator('.problem').textContent()).toMatch(/candidate:2:\d+/);
    tab.errors.length = 0; // the browser's console tells the refusal as well

    await tab.page.getByRole('button', { name: 'Begin with the present file' }).click();
    await tab.page.waitForFunction(() => document.querySelector('textarea')!.value.includes('booster-6'));
    const candidate = parse(await text.inputValue()) as PlantFile;
    candidate.motors['booster-4']!.alarms!['rate-high']!['setpointPerMin'] = 5_000;
    await text.fill(stringify(candidate));
    await tab.page.getByRole('button', { name: 'Rehearse' }).click();
    const row = tab.page.locator('.outcome-alarm', { hasText: 'booster-4.de-rate-high' });
    await row.waitFor({ timeout: PATIENCE_MS });
    expect(await row.getAttribute('class')).toContain('differs');
    // it was raised really, and would not have been
    expect(await row.locator('.outcome-was').count()).toBe(1);
    expect(await row.locator('.outcome-would').count()).toBe(0);
    expect(await row.textContent()).toContain('5000');
    expect(tab.errors).toEqual([]);
    await tab.close();
  });
});
