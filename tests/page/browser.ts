/**
 * Debian's chromium, driven by playwright-core, and what every page test wants to know of a tab: errors, and requests that
 * left the page's own origin. Found by PATH; a machine without it leaves the page tests out, and says so in one line.
 */
import { existsSync } from 'node:fs';
import { delimiter, join } from 'node:path';
import { chromium, type Browser, type BrowserContextOptions, type Page } from 'playwright-core';

/** Path of the program; null: it is not installed. */
export function findChromium(): string | null {
  for (const folder of (process.env['PATH'] ?? '').split(delimiter)) {
    const path = join(folder, 'chromium');
    if (folder !== '' && existsSync(path)) return path;
  }
  return null;
}

/** True where the tests can run; otherwise says in one line that they cannot. `what`: the name of the tests. */
export function hasBrowser(what: string): boolean {
  if (findChromium() !== null) return true;
  console.log(`${what} left out: no chromium in PATH (apt-get install chromium).`);
  return false;
}

export async function openBrowser(): Promise<Browser> {
  const executablePath = findChromium();
  if (executablePath === null) throw new Error('no chromium in PATH: apt-get install chromium');
  // root may not use the sandbox, and a container's shared memory is too small for it
  const args = ['--disable-dev-shm-usage', '--font-render-hinting=none', '--js-flags=--expose-gc'];
  if (process.getuid?.() === 0) args.push('--no-sandbox');
  return chromium.launch({ executablePath, args });
}

/** Sizes that people sit before. */
export const SCREENS = {
  desk: { width: 1280, height: 800 },
  tablet: { width: 800, height: 1280 },
  wall: { width: 3840, height: 2160 },
} as const;

export interface Tab {
  readonly page: Page;
  /** messages of errors, of scripts and of the console */
  readonly errors: string[];
  /** addresses of requests that went elsewhere */
  readonly strangers: string[];
  close(): Promise<void>;
}

/** A tab with a memory of its own. `origin`: `http://127.0.0.1:PORT` of the gateway. */
export async function openTab(
  browser: Browser,
  origin: string,
  options: BrowserContextOptions = {},
): Promise<Tab> {
  const context = await browser.newContext({
    viewport: SCREENS.desk,
    colorScheme: 'light',
    baseURL: origin,
    reducedMotion: 'reduce',
    ...options,
  });
  const page = await context.newPage();
  const errors: string[] = [];
  const strangers: string[] = [];
  page.on('pageerror', (error) => errors.push(error.stack ?? error.message));
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(`${message.text()} (${message.location().url})`);
  });
  page.on('request', (request) => {
    if (new URL(request.url()).origin !== origin) strangers.push(request.url());
  });
  return { page, errors, strangers, close: () => context.close() };
}
