/** The views with charts in a real browser: 50,000 points zoomed, few drawn, values by keyboard, evidence, both periods. */
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab, SCREENS, type Tab } from './browser.js';
import { findSmallTargets, measureOverflow } from './measure.js';
import { startStoredPast, type StoredPast } from './stored-past.js';

const PATIENCE_MS = 30_000;
/** Longer than the page waits until a movement has stopped, and the load behind it. */
const SETTLE_MS = 1_500;
const POINTS_MOST = 4_000;
const FRAME_MS_MOST = 50;
const DAY_MS = 86_400_000;
const CHART = '.time-chart[data-points]';

interface SeriesAnswer {
  readonly points: readonly unknown[];
}

describe.runIf(hasBrowser('The tests of the charts in the browser are'))('the charts', () => {
  let past: StoredPast;
  let browser: Browser;
  let tab: Tab;
  let page: Page;
  beforeAll(async () => {
    [past, browser] = await Promise.all([startStoredPast(), openBrowser()]);
    tab = await openTab(browser, past.http);
    page = tab.page;
    page.setDefaultTimeout(PATIENCE_MS);
  }, 180_000);
  afterAll(async () => {
    expect(tab?.errors ?? []).toEqual([]);
    await browser?.close();
    await past?.stop();
  });

  const open = async (path: string, ready: string): Promise<void> => {
    await page.goto(path);
    await page.waitForSelector(ready);
  };
  const openMotor = (from: number, to: number): Promise<void> =>
    open(`/motor/booster-4?from=${from}&to=${to}`, CHART);

  /** Wheel over the chart, in and out again, while frames are timed: ms between two, in order of length. */
  async function zoomInAndOut(steps: number): Promise<number[]> {
    await page.locator('.time-chart').scrollIntoViewIfNeeded();
    const box = (await page.locator('.time-chart .u-over').first().boundingBox())!;
    await page.evaluate(() => {
      const frames: number[] = [];
      let last = performance.now();
      const take = (at: number): void => {
        frames.push(at - last);
        last = at;
        requestAnimationFrame(take);
      };
      requestAnimationFrame(take);
      (window as unknown as { frames: number[] }).frames = frames;
    });
    await page.mouse.move(box.x + box.width * 0.6, box.y + box.height / 2);
    for (let step = 0; step < steps; step++) {
      await page.mouse.wheel(0, step < steps / 2 ? -60 : 60);
      await page.waitForTimeout(step === steps / 2 - 1 ? SETTLE_MS : 16);
    }
    const frames = await page.evaluate(() => (window as unknown as { frames: number[] }).frames);
    return frames.slice(1).sort((a, b) => a - b);
  }

  it('50,000 minutes of two sensors are zoomed smoothly, and no curve has more than 4,000 points', async () => {
    const answers: number[] = [];
    page.on('response', (response) => {
      if (!response.url().includes('/api/v1/series')) return;
      void response.json().then(
        (body: SeriesAnswer) => answers.push(body.points.length),
        () => undefined,
      );
    });
    await openMotor(past.from, past.to);
    const shares: number[] = [];
    for (let round = 0; round < 3; round++) {
      const frames = await zoomInAndOut(120);
      const p95 = frames[Math.floor(0.95 * frames.length)]!;
      console.log(
        `${frames.length} frames, median ${frames[frames.length >> 1]!.toFixed(1)} ms, p95 ${p95.toFixed(1)} ms`,
      );
      shares.push(p95);
    }
    // the median of three rounds: another process may take the processor during one of them
    expect(shares.sort((a, b) => a - b)[1]).toBeLessThan(FRAME_MS_MOST);
    await page.waitForTimeout(1_000);
    expect(answers.length).toBeGreaterThan(2);
    expect(Math.max(...answers)).toBeLessThanOrEqual(POINTS_MOST);
    const drawn = Number(await page.getAttribute('.time-chart', 'data-points'));
    expect(drawn).toBeGreaterThan(500);
    expect(drawn).toBeLessThanOrEqual(POINTS_MOST);
  });

  it('keys alone move the cursor, zoom, move and set marks, and every value is told in words', async () => {
    // the third day behind the begin of a week ran from 06:00 to 22:00
    const day = past.to - 2 * DAY_MS;
    await openMotor(day, day + DAY_MS);
    await page.focus('.time-chart');
    await page.keyboard.press('Home');
    await page.waitForSelector('.cursor-values strong');
    const spanOf = async (): Promise<number> => {
      await page.waitForTimeout(1_000);
      const query = new URL(page.url()).searchParams;
      return Number(query.get('to')) - Number(query.get('from'));
    };
    const whole = await spanOf();
    const values = () => page.locator('.cursor-values').innerText();
    const seen = new Set<string>();
    for (let step = 0; step < 20; step++) {
      await page.keyboard.press('Control+ArrowRight');
      const text = await values();
      for (const word of ['pulses in', 'no running exposure', 'running', 'stopped', 'rpm'])
        if (text.includes(word)) seen.add(word);
    }
    expect([...seen].sort()).toEqual(
      ['no running exposure', 'pulses in', 'rpm', 'running', 'stopped'].sort(),
    );
    await page.keyboard.press('+');
    expect(await spanOf()).toBeLessThan(0.7 * whole);
    const before = Number(new URL(page.url()).searchParams.get('from'));
    await page.keyboard.press('Shift+ArrowLeft');
    await spanOf();
    expect(Number(new URL(page.url()).searchParams.get('from'))).toBeLessThan(before);
    await page.keyboard.press('a');
    for (let step = 0; step < 5; step++) await page.keyboard.press('ArrowRight');
    await page.keyboard.press('b');
    await page.waitForSelector('.count-panel button.primary:enabled:has-text("Count")');
    await page.keyboard.press('Escape');
    await page.waitForSelector('.count-panel button.primary:disabled:has-text("Count")');
    // marks stand where somebody clicked, though the pointer has gone to their buttons since
    const told: string[] = [];
    for (const [share, name] of [
      [0.2, 'Set A'],
      [0.7, 'Set B'],
    ] as const) {
      const plot = page.locator('.time-chart .u-over').first();
      const { width, height } = (await plot.boundingBox())!;
      await plot.click({ position: { x: share * width, y: height / 2 } });
      told.push((await values()).split(/ in | from /)[0]!.trim());
      await page.getByRole('button', { name }).click();
    }
    await page.waitForSelector(`.count-panel:has-text("${told.join(' to ')}")`);
  });

  it('work, findings and alarms stand in the list, and an alarm opens its evidence', async () => {
    await openMotor(past.from, past.to);
    await page.waitForSelector('.mark-list li:has-text("shaft earthing fitted")');
    await page.waitForSelector('.mark-list li:has-text("frosting")');
    await page.locator('.mark-list details summary').last().click();
    await page.waitForSelector('.evidence:has-text("910 pulses in 10 min")');
    expect(await page.locator('.evidence').innerText()).toContain('85.0 to 97.0');
  });

  it('the figures stand in a table too, with no exposure where nothing ran', async () => {
    await openMotor(past.to - 2 * DAY_MS, past.to);
    await page.click('.figure-table > summary');
    await page.waitForSelector('.figure-table tbody tr');
    const text = await page.locator('.figure-table').innerText();
    expect(text).toContain('no exposure');
    expect(text).toContain('background');
  });

  it('the zone stands on the axis, with the change of the clocks where there is one', async () => {
    const change = Date.UTC(2025, 9, 26, 1);
    await openMotor(change - DAY_MS, change + DAY_MS);
    await page.waitForSelector('.chart-foot:has-text("Europe/London, BST until 26 Oct, then GMT")');
    await openMotor(Date.UTC(2025, 6, 1), Date.UTC(2025, 6, 2));
    await page.waitForSelector('.chart-foot:has-text("Europe/London, BST")');
  });

  it.each([
    ['motor', '/motor/booster-4?span=7776000000', CHART],
    ['sisters', '/sisters/boosters', '.interval-chart .mark.is-odd'],
    ['compare', '/compare/booster-4', '.interval-chart .limits'],
    ['plan', '/plan/booster-4', '.dossier .cautions'],
  ])(
    '%s with all it can show passes axe-core in both themes, folded parts open, and fits desk and tablet',
    async (_, path, ready) => {
      for (const colorScheme of ['light', 'dark'] as const) {
        const other = await openTab(browser, past.http, { colorScheme });
        await other.page.goto(path);
        await other.page.waitForSelector(ready);
        await other.page.evaluate(() =>
          document.querySelectorAll('details').forEach((each) => (each.open = true)),
        );
        await other.page.waitForTimeout(1_000);
        expect(await findViolations(other.page), colorScheme).toEqual([]);
        for (const viewport of [SCREENS.desk, SCREENS.tablet]) {
          await other.page.setViewportSize(viewport);
          expect(await measureOverflow(other.page)).toBe(0);
          expect(await findSmallTargets(other.page)).toEqual([]);
        }
        expect(other.errors).toEqual([]);
        await other.close();
      }
    },
  );

  it('work that is entered by keyboard appears in the list at once, and is gone when it is withdrawn', async () => {
    await open('/motor/booster-2?span=86400000', CHART);
    await page.locator('.entry summary').first().focus();
    await page.keyboard.press('Enter');
    await page.selectOption('.entry[open] select[name=action]', 'regreased');
    await page.fill('.entry[open] input[name=by]', 'K. Wren');
    await page.fill('.entry[open] textarea', 'by hand');
    await page.focus('.entry[open] button[type=submit]');
    await page.keyboard.press('Enter');
    await page.waitForSelector('.entry[open] [role=status]:has-text("Entered.")');
    const mark = page.locator('.mark-list li:has-text("regreased: by hand")');
    await mark.getByText('Entered by K. Wren').waitFor();
    await mark.locator('.withdraw summary').press('Enter');
    await mark.locator('input[name=note]').fill('it was another pump');
    await mark.locator('.withdraw button').press('Enter');
    await mark.waitFor({ state: 'detached' });
  });

  it('the odd sister is marked with its sentence, and any bin can be chosen', async () => {
    await open('/sisters/boosters', '.interval-chart .mark.is-odd');
    expect(await page.locator('.odd-sentence').first().innerText()).toContain('booster-4 DE discharges');
    const matched = await page.locator('tr.is-odd td').first().innerText();
    await page.locator('.choices select').last().selectOption({ index: 1 });
    await page.waitForFunction((old) => document.querySelector('tr.is-odd td')?.textContent !== old, matched);
    expect(new URL(page.url()).searchParams.get('bin')).toMatch(/^speed /);
  });

  it('before and after has both periods, the ratio with limits and its bins; the plan leads there', async () => {
    await open('/plan/booster-4', '.dossier .cautions');
    await page.locator('.dossier a:has-text("shaft earthing fitted")').first().click();
    await page.waitForSelector('.answer-sentence');
    await page.waitForSelector('.small-series .trace');
    await page.waitForSelector('.interval-chart .limits');
    const text = await page.locator('#stage').innerText();
    for (const part of ['Before:', 'After:', 'Bins shared', 'speed 1200 rpm and above', 'not a diagnosis'])
      expect(text).toContain(part);
    await open('/compare/booster-2?action=', '.is-missing, .answer-sentence');
  });
});
