/** Reports in the browser: chosen, printed on A4 and Letter with text and size checked, and kept as CSV. */
import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findViolations } from './axe.js';
import { hasBrowser, openBrowser, openTab, type Tab } from './browser.js';
import { startLivePlant, type LivePlant } from './live-plant.js';
import { measureOverflow } from './measure.js';
import { isPaper, joinText, readPdf } from './pdf-text.js';

const PATIENCE_MS = 40_000;

interface Kind {
  readonly kind: 'motor' | 'group' | 'period';
  /** chosen in the form; empty: there is nothing to choose */
  readonly of: string;
  readonly says: readonly string[];
  readonly columns: string;
}

const KINDS: readonly Kind[] = [
  {
    ...{ kind: 'motor', of: 'booster-4', columns: 'sensor,start,end,running_pulses,running_ms,mean_per_min' },
    says: ['Discharges at booster-4', 'non-drive end', 'Every counted pulse is in exactly one class'],
  },
  {
    ...{ kind: 'group', of: 'boosters', columns: 'group,sensor,bin,pulses,running_ms,rate_per_min' },
    says: ['duty group boosters', 'booster-6', 'middle of the group'],
  },
  {
    ...{ kind: 'period', of: '', columns: 'sensor,from,to,running_pulses,running_ms,rate_per_min' },
    says: ['Report of a shift', 'fan-2', 'Standing when the report was made', 'Balance of all counts'],
  },
];
const EVERY_REPORT = [
  ...['tarn-hollow', 'Method and sources', 'Garwood', 'Cautions', 'Europe/London', 'configuration'],
  'A count is not a severity',
];

/** By somebody whose name has no place to break a line, and is as long as names may be. */
async function enterWork(http: string): Promise<void> {
  const answer = await fetch(`${http}/api/v1/motors/booster-4/actions`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ action: 'shaft-earthing-serviced', end: 'de', by: 'N'.repeat(64) }),
  });
  expect(answer.status, await answer.text()).toBe(200);
}

describe.runIf(hasBrowser('The tests of reports in the browser are'))('a report', () => {
  let plant: LivePlant;
  let browser: Browser;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([startLivePlant(), openBrowser()]);
    await enterWork(plant.http);
  }, 180_000);
  afterAll(async () => {
    await browser?.close();
    await plant?.stop();
  });

  async function choose(page: Page, { kind, of }: Kind): Promise<void> {
    await page.goto('/reports');
    const form = page.locator(`form[data-kind="${kind}"]`);
    if (of !== '') await form.locator('select[name=of]').selectOption(of);
    await form.locator('select[name=span]').selectOption('hours-8');
    await form.getByRole('button').click();
    await page.waitForSelector('.report-sheet[data-ready="yes"]', { timeout: PATIENCE_MS });
  }

  async function openReport(kind: Kind, scheme: 'light' | 'dark'): Promise<Tab> {
    const tab = await openTab(browser, plant.http, { colorScheme: scheme });
    await choose(tab.page, kind);
    return tab;
  }

  const cases = KINDS.map((kind) => [kind.kind, kind] as const);

  it.each(cases)('of a %s prints on A4 and on Letter, whatever the screen', async (_, kind) => {
    const tab = await openReport(kind, 'dark');
    for (const format of ['A4', 'Letter'] as const) {
      const pages = readPdf(await tab.page.pdf({ format, printBackground: true }));
      expect(pages.length).toBeGreaterThan(0);
      for (const each of pages) {
        expect(isPaper(each, format), `${format}: ${each.width} x ${each.height}`).toBe(true);
        // a page is neither empty nor a rest of one line
        expect(each.text.replaceAll(/\s/g, '').length).toBeGreaterThan(40);
        // a loose sheet says what it is of
        expect(joinText([each])).toMatch(/tarn-hollow: (Discharges|Report)/);
      }
      const text = joinText(pages);
      for (const said of [...kind.says, ...EVERY_REPORT]) expect(text, `${format}: ${said}`).toContain(said);
      for (const control of ['Another report', 'as CSV', 'Wiring']) expect(text).not.toContain(control);
    }
    expect(tab.errors).toEqual([]);
    expect(tab.strangers).toEqual([]);
    await tab.close();
  });

  it.each(cases)('of a %s is kept as CSV with the same figures', async (_, kind) => {
    const tab = await openReport(kind, 'light');
    const waiting = tab.page.waitForEvent('download');
    await tab.page.getByRole('button', { name: 'Figures as CSV' }).click();
    const download = await waiting;
    expect(download.suggestedFilename()).toMatch(/^tallypost-.*\.csv$/);
    const [head = '', ...rows] = readFileSync(await download.path(), 'utf8').split('\r\n');
    expect(head.startsWith(kind.columns)).toBe(true);
    expect(rows.filter((row) => row !== '').length).toBeGreaterThan(5);
    const place = head.split(',').indexOf('running_ms');
    const widths = new Set(
      rows.filter((row) => row !== '' && !row.includes('"')).map((row) => row.split(',').length),
    );
    expect(widths).toEqual(new Set([head.split(',').length]));
    expect(rows.some((row) => Number(row.split(',')[place]) > 0)).toBe(true);
    await tab.close();
  });

  it('of a motor keeps its totals as they are shown', async () => {
    const tab = await openReport(KINDS[0]!, 'light');
    const waiting = tab.page.waitForEvent('download');
    await tab.page.getByRole('button', { name: 'Totals as CSV' }).click();
    const [head = '', ...rows] = readFileSync(await (await waiting).path(), 'utf8').split('\r\n');
    const place = head.split(',').indexOf('running_pulses');
    const shown = (await tab.page.locator('.report-sheet').innerText()).replaceAll(',', '');
    const pulses = rows.filter((row) => row !== '').map((row) => row.split(',')[place]!);
    expect(pulses).toHaveLength(2);
    for (const each of pulses) expect(shown).toContain(`: ${each} pulses in`);
    await tab.close();
  });

  it.each(cases)('of a %s passes axe-core, light and dim, and fits a tablet', async (_, kind) => {
    for (const scheme of ['light', 'dark'] as const) {
      const tab = await openReport(kind, scheme);
      expect(await findViolations(tab.page), scheme).toEqual([]);
      const beyond = (sheet: Element): number => sheet.scrollWidth - sheet.clientWidth;
      expect(await tab.page.locator('.report-sheet').evaluate(beyond)).toBe(0);
      await tab.page.setViewportSize({ width: 800, height: 1280 });
      expect(await measureOverflow(tab.page)).toBe(0);
      await tab.close();
    }
  });

  it('says its span in its address, and refuses one that is none', async () => {
    const tab = await openReport(KINDS[0]!, 'light');
    const address = new URL(tab.page.url());
    expect(Number(address.searchParams.get('to')) - Number(address.searchParams.get('from'))).toBe(
      8 * 3_600_000,
    );
    await tab.page.goto('/reports/period?from=5&to=4');
    await tab.page.getByText('names no time that a report can be of').waitFor();
    await tab.close();
  });
});
