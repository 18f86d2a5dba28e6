/** What the page does before a gateway with users: a form, a refusal in words, a name, and the way out. */
import type { Browser, Route } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab, type Tab } from './browser.js';
import { startLivePlant, type LivePlant } from './live-plant.js';

const NAME = 'k.wren';
const PASSWORD = 'a long one for tests';

const SESSION = { login_needed: true, kiosk: false, until: null, now: '2026-03-02T06:00:00.000Z' };

/** Stands before the gateway as its users do: nobody gets anything without the session that the right password opens. */
async function guard(tab: Tab, role: 'view' | 'operate'): Promise<void> {
  let isIn = false;
  const refuse = (route: Route, detail: string, hint: string): Promise<void> =>
    route.fulfill({
      status: 401,
      contentType: 'application/problem+json',
      body: JSON.stringify({ type: 'about:blank', title: 'Not logged in', status: 401, detail, hint }),
    });
  await tab.page.route('**/api/v1/**', async (route) => {
    const request = route.request();
    if (new URL(request.url()).pathname !== '/api/v1/session')
      return isIn ? route.continue() : refuse(route, 'Nobody is logged in.', 'Log in.');
    if (request.method() === 'POST') {
      const { name, password } = request.postDataJSON() as { name: string; password: string };
      if (name !== NAME || password !== PASSWORD)
        return refuse(route, 'Name or password are wrong.', 'Try again, or ask who keeps the configuration.');
      isIn = true;
    } else if (request.method() === 'DELETE') isIn = false;
    return route.fulfill({
      json: { ...SESSION, name: isIn ? NAME : null, role: isIn ? role : null },
    });
  });
}

describe.runIf(hasBrowser('The tests of the login in the browser are'))('a gateway with users', () => {
  let plant: LivePlant;
  let browser: Browser;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await plant?.stop();
  });

  async function logIn(tab: Tab, password: string): Promise<void> {
    await tab.page.getByLabel('Name').fill(NAME);
    await tab.page.getByLabel('Password').fill(password);
    await tab.page.keyboard.press('Enter');
  }

  it('is asked for by a form, says why it refused, and is live after the right password', async () => {
    const tab = await openTab(browser, plant.http);
    await guard(tab, 'operate');
    await tab.page.goto('/');
    await tab.page.getByRole('heading', { name: 'Who is there?' }).waitFor();
    expect(await findViolations(tab.page)).toEqual([]);
    await logIn(tab, 'wrong');
    await tab.page.locator('.problem', { hasText: 'Name or password are wrong' }).waitFor();
    await logIn(tab, PASSWORD);
    await tab.page.waitForSelector('.link-state:has-text("Live")');
    await tab.page.waitForSelector('.alarm-card');
    expect(await tab.page.locator('.who-chip').textContent()).toContain(NAME);
    // the name comes from the login: nobody is asked for it again
    await tab.page.getByRole('button', { name: 'Acknowledge…' }).first().click();
    await tab.page.waitForSelector('.act-form');
    expect(await tab.page.locator('.act-form input[name=who]').count()).toBe(0);
    // after a load of the page the session is still there
    await tab.page.reload();
    await tab.page.locator('.who-chip', { hasText: NAME }).waitFor();
    await tab.page.getByRole('button', { name: 'Log out' }).click();
    await tab.page.getByRole('heading', { name: 'Who is there?' }).waitFor();
    await tab.close();
  });

  it('offers no acts to whoever may only read', async () => {
    const tab = await openTab(browser, plant.http);
    await guard(tab, 'view');
    await tab.page.goto('/');
    await logIn(tab, PASSWORD);
    await tab.page.waitForSelector('.alarm-card');
    expect(await tab.page.locator('.act-row').count()).toBe(0);
    await tab.close();
  });

  it('says to whoever sets up a wall what is missing', async () => {
    const tab = await openTab(browser, plant.http);
    await guard(tab, 'view');
    await tab.page.goto('/kiosk');
    await tab.page.getByText('kiosk: true').waitFor();
    await tab.close();
  });
});
