/** Makes the pictures of README.md from the demo plant: a day of its past, and the page as it is. */
import { mkdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { it } from 'vitest';
import { repositoryRoot } from '../support/repository.js';
import { openBrowser, openTab, SCREENS } from './browser.js';
import { startLivePlant } from './live-plant.js';

interface Shot {
  readonly name: string;
  readonly path: string;
  readonly ready: string;
  readonly screen: keyof typeof SCREENS;
  readonly colorScheme: 'light' | 'dark';
}

const SHOTS: readonly Shot[] = [
  { name: 'now', path: '/', ready: '.tile .strip-bars', screen: 'desk', colorScheme: 'light' },
  {
    name: 'alarm',
    path: '/alarms/booster-4.de-rate-high',
    ready: '.alarm-past tbody tr',
    screen: 'desk',
    colorScheme: 'light',
  },
  { name: 'kiosk', path: '/kiosk', ready: '.kiosk-motor .strip-bars', screen: 'desk', colorScheme: 'dark' },
];
const PAST_HOURS = 24;
/** rates come each ten seconds, and the first alarms of the live part after some */
const SETTLE_MS = 40_000;

it('pictures of the page', async () => {
  const folder = join(repositoryRoot(), 'docs/images');
  mkdirSync(folder, { recursive: true });
  const [plant, browser] = await Promise.all([
    startLivePlant({ pastHours: PAST_HOURS, edit: () => undefined }),
    openBrowser(),
  ]);
  try {
    await new Promise((resolve) => setTimeout(resolve, SETTLE_MS));
    for (const { name, path, ready, screen, colorScheme } of SHOTS) {
      const tab = await openTab(browser, plant.http, { viewport: SCREENS[screen], colorScheme });
      await tab.page.goto(path);
      await tab.page.waitForSelector(ready);
      await tab.page.waitForTimeout(1_000);
      const file = join(folder, `${name}.png`);
      await tab.page.screenshot({ path: file });
      console.log(`docs/images/${name}.png ${Math.round(statSync(file).size / 1000)} kB`);
      await tab.close();
    }
  } finally {
    await browser.close();
    await plant.stop();
  }
});
