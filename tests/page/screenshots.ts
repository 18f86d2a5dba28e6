/** Makes the pictures of README.md and docs/page.md from the demo plant: days of its past, and the page as it is. */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { expect, it } from 'vitest';
import { repositoryRoot } from '../support/repository.js';
import { openBrowser, openTab, SCREENS } from './browser.js';
import { startLivePlant } from './live-plant.js';

interface Shot {
  readonly name: string;
  /** `{from}`, `{to}`: the last day, ms */
  readonly path: string;
  readonly ready: string;
  readonly colorScheme?: 'dark';
}

const SHOTS: readonly Shot[] = [
  { name: 'now', path: '/', ready: '.tile .strip-bars' },
  { name: 'motor', path: '/motor/booster-4?span=86400000', ready: '.time-chart[data-points] .u-over' },
  { name: 'sisters', path: '/sisters/boosters', ready: '.interval-chart .mark' },
  { name: 'compare', path: '/compare/booster-4', ready: '.small-series .trace' },
  { name: 'plan', path: '/plan/booster-4', ready: '.dossier .cautions' },
  { name: 'alarms', path: '/alarms', ready: '.alarm-list tbody tr' },
  { name: 'alarm', path: '/alarms/booster-4.de-rate-high', ready: '.alarm-past tbody tr' },
  { name: 'wiring', path: '/wiring', ready: '.wiring-chain-table tbody tr' },
  { name: 'gateway', path: '/gateway', ready: '[data-part="ledger"]:has-text("Proved from the store")' },
  {
    name: 'report',
    path: '/reports/motor/booster-4?from={from}&to={to}',
    ready: '.report-sheet[data-ready=yes]',
  },
  { name: 'kiosk', path: '/kiosk', ready: '.kiosk-motor .strip-bars', colorScheme: 'dark' },
];
/** enough on both sides of the work for an answer */
const PAST_HOURS = 96;
const PAST_MS = PAST_HOURS * 3_600_000;
const DAY_MS = 86_400_000;
/** rates come each ten seconds, and the first alarms of the live part after some */
const SETTLE_MS = 40_000;
const PATIENCE_MS = 30_000;
/** Our choice: whoever clones the repository fetches all of them with every version. */
const BYTES_MOST = 150_000;
const ALL_BYTES_MOST = 1_000_000;

/** Work in the middle of the past, so that there is something before and after it. */
async function enterWork(http: string): Promise<void> {
  const at = new Date(Date.now() - PAST_MS / 2).toISOString();
  const answer = await fetch(`${http}/api/v1/motors/booster-4/actions`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({
      action: 'shaft-earthing-serviced',
      end: 'de',
      at,
      by: 'J. Field',
      note: 'brush cleaned',
    }),
  });
  expect(answer.status, await answer.text()).toBe(200);
}

/** WebP, which browsers show and which takes a third of a PNG. */
async function photograph(page: Page): Promise<Buffer> {
  const protocol = await page.context().newCDPSession(page);
  const { data } = await protocol.send('Page.captureScreenshot', { format: 'webp', quality: 82 });
  return Buffer.from(data, 'base64');
}

async function takeShot(browser: Browser, http: string, shot: Shot): Promise<Buffer> {
  const tab = await openTab(browser, http, {
    viewport: SCREENS.desk,
    colorScheme: shot.colorScheme ?? 'light',
  });
  const now = Date.now();
  const path = shot.path.replace('{from}', String(now - DAY_MS)).replace('{to}', String(now));
  await tab.page.goto(path);
  await tab.page.waitForSelector(shot.ready, { timeout: PATIENCE_MS });
  await tab.page.waitForTimeout(1_000);
  const picture = await photograph(tab.page);
  await tab.close();
  return picture;
}

it('pictures of the page', async () => {
  const folder = process.env['TALLYPOST_PICTURES'] ?? join(repositoryRoot(), 'docs/images');
  mkdirSync(folder, { recursive: true });
  const [plant, browser] = await Promise.all([
    startLivePlant({ pastHours: PAST_HOURS, edit: () => undefined }),
    openBrowser(),
  ]);
  try {
    await enterWork(plant.http);
    await new Promise((resolve) => setTimeout(resolve, SETTLE_MS));
    let all = 0;
    for (const shot of SHOTS) {
      const picture = await takeShot(browser, plant.http, shot);
      writeFileSync(join(folder, `${shot.name}.webp`), picture);
      console.log(`${shot.name}.webp ${Math.round(picture.length / 1000)} kB`);
      expect(picture.length, shot.name).toBeLessThan(BYTES_MOST);
      all += picture.length;
    }
    expect(all).toBeLessThan(ALL_BYTES_MOST);
  } finally {
    await browser.close();
    await plant.stop();
  }
});
