/** The page's live connection when the network or the gateway fails: noticed, told, and refilled, nothing missed and nothing twice. */
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, afterEach, describe, expect, it } from 'vitest';
import { startStallingProxy, type StallingProxy } from '../support/stalling-proxy.js';
import { hasBrowser, openBrowser, openTab, type Tab } from './browser.js';
import { startLivePlant, type LivePlant } from './live-plant.js';

const PATIENCE_MS = 20_000;
/** two heartbeats of 15 s, and what a loaded machine adds */
const NOTICED_MS_MOST = 50_000;
const LOW = 'booster-6.de-rate-high';
const HIGH = 'booster-4.de-rate-high';
const MEDIUM = 'booster-1.de-rate-high';

interface Told {
  readonly kind: string;
  readonly body: { readonly id?: number };
}

describe.runIf(hasBrowser('The tests of a broken live connection are'))('a live page', () => {
  let plant: LivePlant;
  let browser: Browser;
  let proxy: StallingProxy;
  let tab: Tab;
  let told: Told[];
  let streams: string[];

  beforeAll(async () => {
    [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
    proxy = await startStallingProxy(Number(new URL(plant.http).port));
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await proxy?.close();
    await plant?.stop();
  });

  beforeEach(async () => {
    tab = await openTab(browser, `http://127.0.0.1:${proxy.port}`);
    [told, streams] = [[], []];
    const protocol = await tab.page.context().newCDPSession(tab.page);
    await protocol.send('Network.enable');
    protocol.on('Network.eventSourceMessageReceived', ({ eventName, data }) =>
      told.push({ kind: eventName, body: JSON.parse(data) as Told['body'] }),
    );
    tab.page.on('request', (request) => {
      if (new URL(request.url()).pathname === '/api/v1/live') streams.push(request.url());
    });
    await tab.page.goto('/alarms/journal');
    await tab.page.waitForSelector('.link-state:has-text("Live")', { timeout: PATIENCE_MS });
    await tab.page.waitForSelector('.journal tbody tr', { timeout: PATIENCE_MS });
  });
  afterEach(() => tab.close());

  /** Past the page and its wire, as a colleague elsewhere. */
  async function act(alarm: string, what: string, more: object): Promise<void> {
    const answer = await fetch(`${plant.http}/api/v1/alarms/${alarm}/${what}`, {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ who: 'N. Dunnock', ...more }),
    });
    expect(answer.status, await answer.text()).toBe(200);
  }

  /** Numbers of the journal as the page was told them, in the order of their coming. */
  const numbers = (): number[] => told.flatMap(({ kind, body }) => (kind === 'journal' ? [body.id!] : []));

  /** Numbers that the journal has given since one of them. */
  async function numbersAfter(id: number): Promise<number[]> {
    const answer = await fetch(`${plant.http}/api/v1/journal?limit=1000`);
    const { journal } = (await answer.json()) as { journal: { id: number }[] };
    return journal.map((entry) => entry.id).filter((each) => each > id);
  }

  async function newestNumber(): Promise<number> {
    return (await numbersAfter(0)).at(-1) ?? 0;
  }

  /** The rows that one note has on the screen; there is one of each when nothing came twice. */
  const rowsOf = (note: string) => tab.page.locator('.journal tbody tr', { hasText: note });

  async function untilTold(id: number): Promise<void> {
    await expect.poll(() => numbers().at(-1) ?? 0, { timeout: PATIENCE_MS }).toBeGreaterThanOrEqual(id);
  }

  it('opens a half-open stream anew although the gateway answers, and is told exactly what it missed', async () => {
    await act(LOW, 'shelve', { note: 'before the break', until: new Date(Date.now() + 3_600_000) });
    await rowsOf('before the break').waitFor({ timeout: PATIENCE_MS });
    const before = await newestNumber();
    await untilTold(before);
    const toldBefore = numbers().length;
    proxy.stall();
    await act(LOW, 'unshelve', { note: 'first in the break' });
    await act(LOW, 'shelve', { note: 'second in the break', until: new Date(Date.now() + 3_600_000) });
    // rates come each 10 s: by now bytes were lost on the way, and that connection stays dead
    await tab.page.waitForTimeout(12_000);
    proxy.heal();
    const answers = await fetch(`http://127.0.0.1:${proxy.port}/live`);
    expect(answers.status).toBe(200);
    expect(await rowsOf('first in the break').count()).toBe(0);
    await rowsOf('first in the break').waitFor({ timeout: NOTICED_MS_MOST });
    await rowsOf('second in the break').waitFor({ timeout: PATIENCE_MS });
    await tab.page.waitForSelector('.link-state:has-text("Live")');
    const missed = await numbersAfter(before);
    await untilTold(missed.at(-1)!);
    expect(numbers().slice(toldBefore, toldBefore + missed.length)).toEqual(missed);
    for (const note of ['before the break', 'first in the break', 'second in the break'])
      expect(await rowsOf(note).count(), note).toBe(1);
    expect(streams.at(-1)).toContain('last_event_id=');
    expect(told.some(({ kind }) => kind === 'again')).toBe(false);
  });

  it('after kill -9 is told every entry of the break once, and shows the alarm as it stands', async () => {
    await tab.page.goto('/');
    await tab.page.waitForSelector(`[data-alarm="${MEDIUM}"]`);
    await tab.page.waitForSelector('.link-state:has-text("Live")');
    await act(HIGH, 'acknowledge', { note: 'before the kill' });
    const before = await newestNumber();
    await untilTold(before);
    const toldBefore = numbers().length;
    await plant.kill();
    await tab.page.waitForSelector('.status-bar.is-lost', { timeout: PATIENCE_MS });
    // it cannot be back before somebody has acted
    await tab.page.context().setOffline(true);
    await plant.restart();
    await act(MEDIUM, 'acknowledge', { note: 'while nobody looked' });
    await tab.page.context().setOffline(false);
    await tab.page.waitForSelector('.link-state:has-text("Live")', { timeout: NOTICED_MS_MOST });
    // it waits no more, and lies folded among the answered ones
    const card = `.answers > [data-alarm="${MEDIUM}"]`;
    await tab.page.waitForSelector(card, { state: 'detached', timeout: PATIENCE_MS });
    const missed = await numbersAfter(before);
    expect(missed.length).toBeGreaterThan(0);
    await untilTold(missed.at(-1)!);
    expect(numbers().slice(toldBefore, toldBefore + missed.length)).toEqual(missed);
    await tab.page.getByRole('navigation').getByRole('link', { name: 'Alarms' }).click();
    await tab.page.getByRole('link', { name: 'What happened' }).click();
    await rowsOf('while nobody looked').waitFor({ timeout: PATIENCE_MS });
    expect(await rowsOf('while nobody looked').count()).toBe(1);
  });
});
