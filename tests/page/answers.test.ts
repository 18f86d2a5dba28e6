/** Acknowledge, shelve and the rest, from the browser to the journal and back; and what the page does when the gateway dies. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab, SCREENS, type Tab } from './browser.js';
import { startLivePlant, type LivePlant } from './live-plant.js';
import { findSmallTargets } from './measure.js';

const PATIENCE_MS = 20_000;
const HIGH = 'booster-4.de-rate-high';
const MEDIUM = 'booster-1.de-rate-high';
const LOW = 'booster-6.de-rate-high';

interface Entry {
  readonly subject: string;
  readonly what: string;
  readonly who: string;
  readonly text: string;
}

describe.runIf(hasBrowser('The tests of answering alarms in the browser are'))('an operator', () => {
  let plant: LivePlant;
  let browser: Browser;
  let tab: Tab;
  let page: Page;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
    tab = await openTab(browser, plant.http);
    page = tab.page;
    page.setDefaultTimeout(PATIENCE_MS);
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await plant?.stop();
  });

  async function journalOf(subject: string): Promise<Entry[]> {
    const answer = await fetch(`${plant.http}/api/v1/journal?subject=${subject}`);
    return ((await answer.json()) as { journal: Entry[] }).journal;
  }

  /** Presses a key until the element has the focus. */
  async function tabTo(selector: string): Promise<void> {
    for (let step = 0; step < 200; step++) {
      await page.keyboard.press('Tab');
      if (await page.evaluate((wanted) => document.activeElement?.matches(wanted) === true, selector)) return;
    }
    throw new Error(`${selector} was never reached`);
  }

  it('acknowledges by keyboard alone: the name once, a note, and it stands in the journal', async () => {
    await page.goto('/');
    await page.waitForSelector(`[data-alarm="${HIGH}"]`);
    expect(await page.locator('.alarm-card').first().getAttribute('data-alarm')).toBe(HIGH);
    await tabTo(`[data-alarm="${HIGH}"] button`);
    await page.keyboard.press('Enter');
    await page.waitForSelector('.act-form');
    // nobody is known yet: the form begins with the name
    expect(await page.evaluate(() => (document.activeElement as HTMLInputElement).name)).toBe('who');
    await page.keyboard.type('K. Wren');
    await page.keyboard.press('Tab');
    await page.keyboard.type('rings to be looked at on Friday');
    await page.keyboard.press('Enter');
    await page.waitForSelector(`.answers > [data-alarm="${HIGH}"]`, { state: 'detached' });
    const entry = (await journalOf(HIGH)).find(({ what }) => what === 'acknowledged');
    expect(entry).toMatchObject({
      who: 'K. Wren',
      text: expect.stringContaining('rings to be looked at') as string,
    });
  });

  it('picks several by keyboard and acknowledges them with one note', async () => {
    const many = await openTab(browser, plant.http, { viewport: SCREENS.tablet, hasTouch: true });
    const list = many.page;
    list.setDefaultTimeout(PATIENCE_MS);
    await list.goto('/alarms');
    const ticks = list.getByRole('checkbox');
    await ticks.first().waitFor();
    const before = await ticks.count();
    expect(before).toBeGreaterThan(1);
    expect(await findSmallTargets(list)).toEqual([]);
    await ticks.first().focus();
    await list.keyboard.press('Space');
    await list.getByRole('button', { name: 'Acknowledge 1…' }).waitFor();
    await list.keyboard.press('Space');
    // by touch, the whole cell
    const others = `tr:has(.pick):not([data-alarm="${LOW}"], [data-alarm="${MEDIUM}"])`;
    const row = list.locator(others).last();
    const alarm = (await row.getAttribute('data-alarm'))!;
    await row.scrollIntoViewIfNeeded();
    const place = (await row.locator('.pick').boundingBox())!;
    await list.touchscreen.tap(place.x + 4, place.y + 4);
    await list.getByRole('button', { name: 'Acknowledge 1…' }).tap();
    expect(await findViolations(list)).toEqual([]);
    await list.getByLabel('Who').fill('R. Siskin');
    await list.getByLabel('Note (may stay empty)').fill('one note for all');
    await list.getByRole('button', { name: 'Acknowledge 1', exact: true }).tap();
    await list.getByText('1 alarm is acknowledged.').waitFor();
    await expect.poll(() => ticks.count()).toBe(before - 1);
    expect((await journalOf(alarm)).at(-1)).toMatchObject({ what: 'acknowledged', who: 'R. Siskin' });
    expect(many.errors).toEqual([]);
    await many.close();
  });

  it('acknowledges the next one in two gestures, because the name is remembered', async () => {
    const card = page.locator(`[data-alarm="${MEDIUM}"]`);
    await card.getByRole('button', { name: 'Acknowledge…' }).click();
    await page.keyboard.press('Enter'); // the button has the focus
    await page.waitForSelector(`.answers > [data-alarm="${MEDIUM}"]`, { state: 'detached' });
    expect((await journalOf(MEDIUM)).at(-1)).toMatchObject({ what: 'acknowledged', who: 'K. Wren' });
    expect(await page.locator('.answered summary').textContent()).toContain('2');
  });

  it('keeps the form of an alarm that somebody else answers first, says who, and loses neither note nor focus', async () => {
    const standing = (await (await fetch(`${plant.http}/api/v1/alarms?state=unacknowledged`)).json()) as {
      alarms: { id: string; grouped_under: string | null }[];
    };
    const id = standing.alarms.find((each) => each.grouped_under === null && each.id !== LOW)!.id;
    const card = page.locator(`.answers > [data-alarm="${id}"]`);
    await card.getByRole('button', { name: 'Acknowledge…' }).click();
    const note = card.locator('input[name=note]');
    await note.fill('greased this morning');
    const body = JSON.stringify({ who: 'A. Linnet', note: '' });
    const headers = { 'content-type': 'application/json' };
    await fetch(`${plant.http}/api/v1/alarms/${id}/acknowledge`, { method: 'POST', headers, body });
    await card.getByText('Meanwhile it was acknowledged by A. Linnet').waitFor();
    expect(await card.locator('button[type=submit]').count()).toBe(0);
    expect(await findViolations(page)).toEqual([]);
    // what was written goes on to what can still be done
    await card.getByRole('button', { name: 'Action taken…' }).click();
    expect(await note.inputValue()).toBe('greased this morning');
    await page.keyboard.press('Enter');
    await card.waitFor({ state: 'detached' });
    expect((await journalOf(id)).at(-1)).toMatchObject({ what: 'confirmed', who: 'K. Wren' });
    // the card is gone, and whoever works by keyboard goes on where it was
    expect(await page.evaluate(() => document.activeElement?.closest('.answers') !== null)).toBe(true);
    await expect
      .poll(() => page.locator('[aria-live=polite]').first().textContent())
      .toContain('Action taken: done');
  });

  it('shelves in two gestures, finds it among the hidden ones, and takes it off the shelf', async () => {
    const card = page.locator(`[data-alarm="${LOW}"]`);
    await card.getByRole('button', { name: 'Shelve…' }).click();
    await card.getByRole('button', { name: 'For 4 h' }).click();
    await page.waitForSelector(`[data-alarm="${LOW}"]`, { state: 'detached' });
    expect((await journalOf(LOW)).at(-1)).toMatchObject({ what: 'shelved', who: 'K. Wren' });
    await page.getByRole('link', { name: /shelved, suppressed/ }).click();
    await page.waitForURL('**/alarms?show=hidden');
    await page.locator(`tr[data-alarm="${LOW}"] a`).click();
    await page.getByText('Shelved until').waitFor();
    await page.getByRole('button', { name: 'Take off the shelf…' }).click();
    await page.locator('.act-form button[type=submit]').click();
    await page.getByRole('button', { name: 'Shelve…' }).waitFor();
    // the past of the alarm tells it at once
    await page.locator('.journal tbody tr', { hasText: 'taken off the shelf' }).waitFor();
    expect((await journalOf(LOW)).map(({ what }) => what).slice(-2)).toEqual(['shelved', 'unshelved']);
  });

  it('confirms the action, takes an alarm out of service, and returns it', async () => {
    await page.goto(`/alarms/${MEDIUM}`);
    await page.getByRole('button', { name: 'Action taken…' }).click();
    await page.locator('.act-form button[type=submit]').click();
    await page.getByText('confirmed by K. Wren').waitFor();
    await page.getByRole('button', { name: 'Out of service…' }).click();
    await page.locator('.act-form button[type=submit]').click();
    await page.getByRole('button', { name: 'Return to service…' }).click();
    await page.locator('.act-form button[type=submit]').click();
    await page.getByRole('button', { name: 'Out of service…' }).waitFor();
    expect((await journalOf(MEDIUM)).map(({ what }) => what).slice(-3)).toEqual([
      'confirmed',
      'taken-out-of-service',
      'returned-to-service',
    ]);
  });

  it('reads why something was refused, and what to do', async () => {
    await page.goto(`/alarms/${LOW}`);
    await page.getByRole('button', { name: 'Acknowledge…' }).click();
    const body = JSON.stringify({ who: 'A. Linnet', note: '' });
    const headers = { 'content-type': 'application/json' };
    await page.route('**/acknowledge', async (route) => {
      // somebody else is a moment earlier
      await fetch(`${plant.http}/api/v1/alarms/${LOW}/acknowledge`, { method: 'POST', headers, body });
      await route.continue();
    });
    await page.locator('.act-form button[type=submit]').click();
    await page.locator('.problem', { hasText: 'nothing to acknowledge' }).waitFor();
    expect(await page.locator('.problem').textContent()).toContain('Somebody may have done so already');
    await page.unroute('**/acknowledge');
    tab.errors.length = 0; // the browser's console tells the refusal as well
  });

  it('sees that the gateway died and how old everything is, and misses nothing when it is back', async () => {
    await page.goto('/');
    await page.waitForSelector('.link-state:has-text("Live")');
    const other = await openTab(browser, plant.http);
    await other.page.goto('/alarms/journal');
    await other.page.waitForSelector('.journal tbody tr');
    await plant.kill();
    await page.waitForSelector('.status-bar.is-lost');
    await page.waitForFunction(() => /Everything shown is (\d+) s old/.test(document.body.textContent ?? ''));
    await plant.restart();
    // while the page waits before its next attempt, somebody acts elsewhere
    const waiting = (await (
      await fetch(`${plant.http}/api/v1/alarms?state=returned-unacknowledged`)
    ).json()) as {
      alarms: { id: string }[];
    };
    const id = waiting.alarms[0]!.id;
    const body = JSON.stringify({ who: 'N. Dunnock', note: 'seen on the panel' });
    const headers = { 'content-type': 'application/json' };
    await fetch(`${plant.http}/api/v1/alarms/${id}/acknowledge`, { method: 'POST', headers, body });
    await page.waitForSelector('.link-state:has-text("Live")');
    await page.waitForSelector(`[data-alarm="${id}"]`, { state: 'detached' });
    await other.page
      .locator('.journal tbody tr', { hasText: 'N. Dunnock' })
      .waitFor({ timeout: PATIENCE_MS });
    // and it is live again: rates move
    const before = await page.locator('.sensor-value').allTextContents();
    await page.waitForFunction(
      (texts) =>
        [...document.querySelectorAll('.sensor-value')].some(
          (each, place) => each.textContent !== texts[place],
        ),
      before,
      { timeout: 60_000 },
    );
    await other.close();
    const [refused, others] = [/ERR_CONNECTION|ERR_INCOMPLETE|Failed to load resource|ERR_EMPTY/, tab.errors];
    expect(others.filter((each) => !refused.test(each))).toEqual([]);
  });

  it('reads in words what was not found', async () => {
    await page.goto('/alarms/booster-1.no-such-alarm');
    await page.locator('.problem', { hasText: 'There is no alarm' }).waitFor();
  });
});
