/** A real gateway with users, in the browser: what each role is offered, and how the end of a login is told and mended. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab, type Tab } from './browser.js';
import { askForAlarms, startLivePlant, type LivePlant, type PlantFile } from './live-plant.js';
import { VIEW_CASES } from './view-list.js';

const PATIENCE_MS = 30_000;
const PASSWORD = 'a long one for tests';
const ROLES = ['view', 'operate', 'engineer'] as const;
type Role = (typeof ROLES)[number];

/** What is only for whoever may act, and what only for whoever may change more than that. */
const ACTS = [
  '.acts button',
  '.pick',
  '.count-panel #timed-title',
  'form:has(select[name=action])',
  'form:has(select[name=modes])',
];
const CHANGES = ['.candidate', '.run-form'];

describe.runIf(hasBrowser('The tests of roles in the browser are'))('a gateway with users', () => {
  let plant: LivePlant;
  let browser: Browser;
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-roles-'));
  const secret = join(folder, 'secret');

  function addUsers(file: PlantFile): void {
    askForAlarms(file);
    file.http['users'] = ROLES.map((role) => ({ name: `the-${role}`, role, passwordFile: secret }));
  }

  beforeAll(async () => {
    writeFileSync(secret, PASSWORD, { mode: 0o600 });
    [plant, browser] = await Promise.all([startLivePlant({ edit: addUsers }), openBrowser()]);
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await plant?.stop();
    rmSync(folder, { recursive: true, force: true });
  });

  async function logIn(page: Page, name: string): Promise<void> {
    await page.getByLabel('Name').fill(name);
    await page.getByLabel('Password').fill(PASSWORD);
    await page.keyboard.press('Enter');
    await page.locator('.who-chip', { hasText: name }).waitFor();
  }

  async function openAs(role: Role, path: string): Promise<Tab> {
    const tab = await openTab(browser, plant.http);
    tab.page.setDefaultTimeout(PATIENCE_MS);
    await tab.page.goto(path);
    await logIn(tab.page, `the-${role}`);
    return tab;
  }

  /** How many of them all views show together. `areOffered`: this login is offered forms, and each view is waited for until it has its own. */
  async function countOffers(tab: Tab, selectors: readonly string[], areOffered = false): Promise<number> {
    let found = 0;
    for (const { path, ready, isBare } of VIEW_CASES) {
      if (isBare === true || path.startsWith('/compare')) continue;
      await tab.page.goto(path);
      // what makes such a view ready may be what this login is not offered
      const isForm = ready === '.candidate' || ready.includes('.run-form');
      await tab.page.waitForSelector(isForm && !areOffered ? 'main h1' : ready);
      await tab.page.waitForSelector('.link-state:has-text("Live")');
      expect(await tab.page.locator('.problem').allTextContents(), path).toEqual([]);
      for (const selector of selectors) found += await tab.page.locator(selector).count();
    }
    return found;
  }

  it('offers nothing to a viewer that a viewer may not do', async () => {
    const tab = await openAs('view', '/');
    expect(await countOffers(tab, [...ACTS, ...CHANGES])).toBe(0);
    expect(tab.errors.filter((each) => !each.includes('401'))).toEqual([]);
    await tab.close();
  });

  it('offers acts to an operator, and says who may do the rest', async () => {
    const tab = await openAs('operate', '/');
    expect(await countOffers(tab, ACTS)).toBeGreaterThan(ACTS.length);
    expect(await countOffers(tab, CHANGES)).toBe(0);
    await tab.page.goto('/alarms/rehearsal');
    await tab.page.getByText('by a login with the role engineer').waitFor();
    expect(await findViolations(tab.page)).toEqual([]);
    await tab.close();
  });

  it('offers everything to an engineer, and acts under the name of the login', async () => {
    const tab = await openAs('engineer', '/');
    expect(await countOffers(tab, CHANGES, true)).toBeGreaterThanOrEqual(CHANGES.length);
    await tab.page.goto('/');
    await tab.page.getByRole('button', { name: 'Acknowledge…' }).first().click();
    const card = tab.page.locator('.answers > .alarm-card').first();
    const alarm = (await card.getAttribute('data-alarm'))!;
    await tab.page.keyboard.press('Enter');
    await tab.page.waitForSelector(`.answers > [data-alarm="${alarm}"]`, { state: 'detached' });
    await tab.page.goto(`/alarms/${alarm}`);
    await tab.page.locator('.journal tbody tr', { hasText: 'the-engineer' }).first().waitFor();
    await tab.close();
  });

  it('logs out, and comes back to the place where one was', async () => {
    const tab = await openAs('operate', '/motor/booster-4?span=10800000');
    await tab.page.waitForSelector('.time-chart[data-points] .u-over');
    await tab.page.getByRole('button', { name: 'Log out' }).click();
    await tab.page.getByRole('heading', { name: 'Who is there?' }).waitFor();
    expect(await tab.page.getByText('Your login is over').count()).toBe(0);
    await logIn(tab.page, 'the-operate');
    await tab.page.waitForSelector('.time-chart[data-points] .u-over');
    expect(new URL(tab.page.url()).pathname).toBe('/motor/booster-4');
    await tab.close();
  });

  it('tells in words that a login is over after a restart, and goes on where one was', async () => {
    const tab = await openAs('operate', '/alarms/journal?span=week');
    await tab.page.waitForSelector('.journal tbody tr');
    await plant.kill();
    await tab.page.waitForSelector('.status-bar.is-lost');
    await plant.restart();
    await tab.page.getByText('Your login is over').waitFor();
    expect(await findViolations(tab.page)).toEqual([]);
    await logIn(tab.page, 'the-operate');
    await tab.page.waitForSelector('.journal tbody tr');
    expect(new URL(tab.page.url()).search).toBe('?span=week');
    await tab.page.waitForSelector('.link-state:has-text("Live")');
    await tab.close();
  });

  it('keeps what was being written while the login is over, and puts the work back', async () => {
    const tab = await openAs('operate', '/');
    const card = tab.page.locator('.answers > .alarm-card').first();
    const alarm = (await card.getAttribute('data-alarm'))!;
    await card.getByRole('button', { name: 'Acknowledge…' }).click();
    const note = tab.page.locator('.act-form input[name=note]');
    await note.fill('rings to be looked at on Friday');
    await plant.kill();
    await tab.page.waitForSelector('.status-bar.is-lost');
    await tab.page.locator('.act-form button[type=submit]').click();
    await tab.page.locator('.act-form .problem', { hasText: 'does not answer' }).waitFor();
    await note.focus();
    await plant.restart();
    await tab.page.getByText('Your login is over').waitFor();
    expect(await card.isVisible()).toBe(false);
    expect(await tab.page.title()).toMatch(/^Log in/);
    expect(await tab.page.getByLabel('Name').inputValue()).toBe('the-operate');
    await logIn(tab.page, 'the-operate');
    await tab.page.locator('.act-form .problem').waitFor({ state: 'detached' });
    await expect.poll(() => note.evaluate((each) => each === document.activeElement)).toBe(true);
    expect(await note.inputValue()).toBe('rings to be looked at on Friday');
    await tab.page.keyboard.press('Enter');
    await tab.page.waitForSelector(`.answers > [data-alarm="${alarm}"]`, { state: 'detached' });
    await tab.page.goto(`/alarms/${alarm}`);
    await tab.page.locator('.journal tbody tr', { hasText: 'on Friday' }).waitFor();
    await tab.close();
  });

  it('tells whose role was lowered, and offers the rest no longer', async () => {
    const tab = await openAs('operate', '/');
    await tab.page.waitForSelector('.acts button');
    plant.reload((file) => {
      const users = file.http['users'] as { name: string; role: string }[];
      users.find(({ name }) => name === 'the-operate')!.role = 'view';
    });
    await tab.page.getByText('Your login is over').waitFor();
    await logIn(tab.page, 'the-operate');
    await tab.page.waitForSelector('.alarm-card');
    expect(await tab.page.locator('.acts button').count()).toBe(0);
    await tab.close();
  });
});
