/** Rehearsal of a changed setpoint in the browser: text in, progress, and a picture of what would have been raised. */
import type { Browser } from 'playwright-core';
import { parse, stringify } from 'yaml';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab } from './browser.js';
import { findSmallTargets } from './measure.js';
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
    await tab.page.getByText('By the text of the whole file').click();
    const text = tab.page.getByLabel('Text of the file');
    const rehearse = tab.page.getByRole('button', { name: 'Rehearse', exact: true });
    await text.fill('site: tarn-hollow\nmotors: 7\n');
    await rehearse.click();
    await tab.page.locator('.problem li').first().waitFor();
    expect(await tab.page.locator('.problem').textContent()).toMatch(/candidate:2:\d+/);
    tab.errors.length = 0; // the browser's console tells the refusal as well

    await tab.page.getByRole('button', { name: 'Begin with the present file' }).click();
    await tab.page.waitForFunction(() => document.querySelector('textarea')!.value.includes('booster-6'));
    const candidate = parse(await text.inputValue()) as PlantFile;
    candidate.motors['booster-4']!.alarms!['rate-high']!['setpointPerMin'] = 5_000;
    await text.fill(stringify(candidate));
    await rehearse.click();
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

  it('takes another setpoint by form, and draws what the configuration in force gives beside it', async () => {
    const tab = await openTab(browser, plant.http);
    await tab.page.goto('/alarms/rehearsal');
    const form = tab.page.getByRole('form', { name: 'Other setpoints' });
    await form.getByLabel('Motor').selectOption('booster-4');
    // the fields begin with what is in force
    const setpoint = form.getByLabel('Setpoint, per min');
    expect(Number(await setpoint.inputValue())).toBeGreaterThan(0);
    await form.getByRole('button', { name: 'Rehearse these setpoints' }).click();
    await form.getByText('Nothing is changed yet').waitFor();
    await setpoint.fill('4000');
    await form.getByLabel('On-delay, min').fill('30');
    expect(await findViolations(tab.page)).toEqual([]);
    await form.getByRole('button', { name: 'Rehearse these setpoints' }).click();
    const row = tab.page.locator('.outcome-alarm', { hasText: 'booster-4.de-rate-high' });
    await row.getByText('4000').waitFor({ timeout: PATIENCE_MS });
    expect(await row.textContent()).toContain('1800000');
    expect(await row.locator('.outcome-ran').count()).toBe(1);
    expect(await row.locator('.outcome-would').count()).toBe(0);
    expect(await findViolations(tab.page)).toEqual([]);
    expect(await findSmallTargets(tab.page)).toEqual([]);
    // and it says what is wrong with it before anything is played
    await form.getByLabel('Deadband, per min').fill('9000');
    await form.getByRole('button', { name: 'Rehearse these setpoints' }).click();
    await tab.page.locator('.problem', { hasText: 'a deadband below the setpoint' }).waitFor();
    await tab.close();
  });
});
