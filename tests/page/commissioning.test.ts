/** Whoever wires a plant, in the browser: a whole round of commissioning by hand, a chain that breaks, and who was turned away. */
import { appendFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab, type Tab } from './browser.js';
import { startHandPlant, type HandPlant } from './hand-plant.js';
import { findSmallTargets, walkByKeyboard } from './measure.js';
import { isPaper, joinText, readPdf } from './pdf-text.js';

const PATIENCE_MS = 40_000;
/** A stop is watched for a minute after its guard. */
const STANDSTILL_MS = 120_000;

describe.runIf(hasBrowser('The tests of wiring and commissioning in the browser are'))('wiring', () => {
  let plant: HandPlant;
  let browser: Browser;
  let tab: Tab;
  let page: Page;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([startHandPlant(), openBrowser()]);
    tab = await openTab(browser, plant.http);
    page = tab.page;
    page.setDefaultTimeout(PATIENCE_MS);
  }, 120_000);
  afterAll(async () => {
    await browser?.close();
    await plant?.stop();
  });

  const step = (key: string, state: string): string => `[data-step="${key}"][data-state="${state}"]`;

  async function begin(name: RegExp): Promise<void> {
    await page.getByRole('button', { name }).click();
  }

  it('shows every link of the chain as it comes to hold', async () => {
    await page.goto('/wiring/well-1');
    for (const link of ['seen', 'authorised', 'understood', 'plausible', 'run-state', 'classified', 'stored'])
      await page.waitForSelector(`[data-link="${link}"][data-state="ok"]`);
    expect(await page.locator('.wiring-link').count()).toBe(16);
    await page.locator('[data-link="forwarded"]', { hasText: 'no receiver is configured' }).first().waitFor();
  });

  it('begins a run with a name, and says the cautions before anything is started', async () => {
    await page.getByLabel('Who').fill('J. Pipit');
    await page.getByLabel('Note (may stay empty)').fill('after the new cable');
    await begin(/Begin commissioning/);
    await page.waitForURL('**/wiring/well-1/run/1');
    await page.getByText('explosive atmosphere may occur').first().waitFor();
    await page.getByText('The shaft turns').waitFor();
    expect(await page.locator('.run-step.is-next').getAttribute('data-step')).toBe('start');
    expect(await page.locator('.run-step').count()).toBe(4);
  });

  it('says when another motor was started', async () => {
    await begin(/It is started now/);
    plant.turn('well-2', 'running');
    await page.waitForSelector(step('start', 'failed'));
    await page.locator('[data-step="start"]', { hasText: 'well-2' }).waitFor();
    plant.turn('well-2', 'stopped');
  });

  it('hears the start of the right motor at the second attempt', async () => {
    await begin(/Repeat: Start/);
    // from here on it is the second attempt that hears
    await page.locator('[data-step="start"] .run-earlier').waitFor();
    plant.turn('well-1', 'starting');
    for (const sensor of ['well-1/de', 'well-1/nde']) plant.count(sensor, 20);
    await new Promise((resolve) => setTimeout(resolve, 2_000));
    plant.turn('well-1', 'running');
    await page.waitForSelector(step('start', 'passed'));
    const heard = page.locator('[data-step="start"] .run-heard').first();
    expect(await heard.locator('tr', { hasText: 'well-1/de' }).textContent()).toContain('heard');
    expect(await page.locator('[data-step="start"] .run-earlier').count()).toBe(1);
  });

  it(
    'counts the background at standstill, then the sparks at each sensor',
    { timeout: STANDSTILL_MS + 60_000 },
    async () => {
      await begin(/It is stopped now/);
      for (const sensor of ['well-1/de', 'well-1/nde']) plant.count(sensor, 0);
      plant.turn('well-1', 'stopped');
      await page.waitForSelector(step('stop', 'passed'), { timeout: STANDSTILL_MS });
      for (const sensor of ['well-1/de', 'well-1/nde']) {
        await begin(new RegExp(`Sparks are made now: Function check of ${sensor}$`));
        plant.count(sensor, 4);
        await page.waitForSelector(step(sensor, 'passed'), { timeout: PATIENCE_MS });
        plant.count(sensor, 0);
      }
    },
  );

  it('keeps the result with who and when, as a sheet that prints', async () => {
    await page.getByLabel('Note to the result').fill('ten sparks each, lighter');
    // where nobody has been yet, the walk by keyboard begins at the top
    const other = await openTab(browser, plant.http, { colorScheme: 'dark' });
    await other.page.goto('/wiring/well-1/run/1');
    await other.page.waitForSelector(step('well-1/nde', 'passed'));
    expect(await findViolations(other.page)).toEqual([]);
    expect(await findSmallTargets(other.page)).toEqual([]);
    const { missed, unseen } = await walkByKeyboard(other.page);
    expect([...missed, ...unseen]).toEqual([]);
    await other.close();
    await begin(/Finish and keep the result/);
    await page.waitForSelector('[data-run="passed"]');
    const sheets = readPdf(await page.pdf({ format: 'A4' }));
    expect(sheets.every((sheet) => isPaper(sheet, 'A4'))).toBe(true);
    const text = joinText(sheets);
    // the attempt that failed is part of the result
    const words = ['Commissioning of well-1', 'Passed', 'J. Pipit', 'ten sparks each', 'well-1/nde'];
    for (const said of [...words, 'Earlier attempt', 'the drive of well-2 told a start'])
      expect(text).toContain(said);
    expect(text).not.toContain('Print');
    const kept = await fetch(`${plant.http}/api/v1/commissioning/1`);
    expect(await kept.json()).toMatchObject({ state: 'passed', closed_by: 'J. Pipit' });
    await page.goto('/wiring/well-1');
    await page.locator('.runs tbody tr', { hasText: 'Passed' }).waitFor();
  });

  it('says what broke, since when and what to do, and that it holds again', { timeout: 90_000 }, async () => {
    await page.goto('/wiring');
    await page.waitForSelector('.wiring-chain-table');
    expect(await page.locator('.wiring-break').count()).toBe(0);
    plant.silence('well-2/nde', true);
    const broken = page.locator('.wiring-break', { hasText: 'well-2/nde' });
    await broken.waitFor();
    expect(await broken.locator('.todo').textContent()).not.toBe('');
    await page.getByLabel('only what is broken').check();
    expect(await page.locator('.wiring-chain-table tbody tr').count()).toBe(1);
    expect(await findViolations(page)).toEqual([]);
    plant.silence('well-2/nde', false);
    await page.getByText('Nothing is broken.').waitFor();
  });

  it('lists unknown senders and denied publishes with topic and rule', async () => {
    await plant.publish('tarn-hollow/in/ghost/de/reading', JSON.stringify({ count: 1 }));
    await plant.publish('tarn-hollow/out/well-1/de/rate', '{}');
    const ghost = page.locator('.wiring-strangers tbody tr', { hasText: 'in/ghost/de/reading' });
    await ghost.waitFor();
    expect(await ghost.textContent()).toContain('Unknown sender');
    const denied = page.locator('.wiring-strangers tbody tr', { hasText: 'out/well-1/de/rate' });
    await denied.waitFor();
    expect(await denied.textContent()).toMatch(/Publish denied.*field-hand/);
    expect(await findViolations(page)).toEqual([]);
    expect(tab.errors).toEqual([]);
  });

  it('the gateway view says that the file differs from what is in force', async () => {
    await page.goto('/gateway');
    await page.waitForSelector('[data-part="configuration"]');
    appendFileSync(
      plant.configFile,
      '  well-3:\n    dutyGroup: wells\n    positions: { de: { intervalMs: 1000 } }\n',
    );
    const part = page.locator('[data-part="configuration"]', { hasText: 'differs from file' });
    await part.waitFor();
    expect(await part.textContent()).toContain('well-3');
    expect(await findViolations(page)).toEqual([]);
    for (const name of ['health', 'intake', 'ledger', 'storage', 'clock', 'sinks'])
      expect(await page.locator(`[data-part="${name}"]`).count(), name).toBe(1);
  });
});
