/** What can be measured of a view from outside: targets, overflow, the walk by keyboard, and what a grey print leaves. */
import type { Page } from 'playwright-core';

const TARGET_PX_LEAST = 44;

/** Everything that can be pressed and is smaller than a gloved finger, links within a sentence apart. */
export function findSmallTargets(page: Page): Promise<string[]> {
  return page.evaluate((least) => {
    const all = [...document.querySelectorAll('a[href], button, select, input, textarea, summary')];
    return all.flatMap((element) => {
      const isTick = element.matches('input[type=checkbox], input[type=radio]');
      const target = isTick ? (element.closest('label') ?? element) : element;
      const box = target.getBoundingClientRect();
      if (box.width === 0 || box.bottom < 0 || box.top < -1000) return [];
      if (element.matches('p a') && getComputedStyle(element).display === 'inline') return [];
      if (element.matches('.skip')) return [];
      const isSmall = box.height < least - 0.5 || box.width < least - 0.5;
      return isSmall
        ? [`${element.outerHTML.slice(0, 90)}: ${box.width.toFixed(0)} x ${box.height.toFixed(0)}`]
        : [];
    });
  }, TARGET_PX_LEAST);
}

/** Pixels by which the page is wider than the screen; what scrolls in a frame of its own does not count. */
export function measureOverflow(page: Page): Promise<number> {
  return page.evaluate(() => Math.max(0, document.documentElement.scrollWidth - innerWidth));
}

/** Pixels by which it is deeper than the screen. */
export function measureDepth(page: Page): Promise<number> {
  return page.evaluate(() => Math.max(0, document.documentElement.scrollHeight - innerHeight));
}

export interface Walk {
  /** what can be reached by the tabulator key, in its order */
  readonly reached: readonly string[];
  /** what can be pressed and was not reached */
  readonly missed: readonly string[];
  /** what shows no sign of having the focus */
  readonly unseen: readonly string[];
}

const STEPS_MOST = 400;

/** Walks through the page with the tabulator key alone. */
export async function walkByKeyboard(page: Page): Promise<Walk> {
  await page.evaluate(() => {
    (document.activeElement as HTMLElement | null)?.blur();
    const wanted = 'a[href], button:not(:disabled), select, input, textarea, summary, [tabindex="0"]';
    [...document.querySelectorAll<HTMLElement>(wanted)].forEach((element, place) => {
      if (element.checkVisibility()) element.dataset['walk'] = String(place);
    });
  });
  const reached: string[] = [];
  const unseen: string[] = [];
  const seen = new Set<string>();
  let last: string | null = null;
  for (let step = 0; step < STEPS_MOST; step++) {
    await page.keyboard.press('Tab');
    const at = await page.evaluate(() => {
      const element = document.activeElement as HTMLElement | null;
      if (element === null || element === document.body) return null;
      const style = getComputedStyle(element);
      const isSeen = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
      return { place: element.dataset['walk'] ?? '', says: element.outerHTML.slice(0, 90), isSeen };
    });
    // a field for a date has stops of its own inside
    if (at !== null && at.place === last) continue;
    if (at === null || seen.has(at.place)) break;
    last = at.place;
    seen.add(at.place);
    reached.push(at.says);
    if (!at.isSeen) unseen.push(at.says);
  }
  const all = await page.evaluate(() =>
    [...document.querySelectorAll<HTMLElement>('[data-walk]')].map((element) => ({
      place: element.dataset['walk'] ?? '',
      says: element.outerHTML.slice(0, 90),
    })),
  );
  return { reached, unseen, missed: all.filter(({ place }) => !seen.has(place)).map(({ says }) => says) };
}

/**
 * Pictures of elements as a grey print has them: darkness of each pixel, 0 to 1, on a common raster. Drawn by a tab of its
 * own, because the page's policy lets no picture in.
 */
export async function readGrey(page: Page, selectors: readonly string[], side: number): Promise<number[][]> {
  await page.addStyleTag({ content: 'html { filter: grayscale(1) }' }).catch(() => undefined);
  const pictures: string[] = [];
  for (const selector of selectors) {
    const element = page.locator(selector).first();
    await element.scrollIntoViewIfNeeded();
    pictures.push((await element.screenshot()).toString('base64'));
  }
  const painter = await page.context().newPage();
  try {
    return await painter.evaluate(
      async ({ sources, size }) => {
        const grey: number[][] = [];
        for (const source of sources) {
          const image = new Image();
          image.src = `data:image/png;base64,${source}`;
          await image.decode();
          const canvas = new OffscreenCanvas(size, size);
          const context = canvas.getContext('2d')!;
          context.drawImage(image, 0, 0, size, size);
          const { data } = context.getImageData(0, 0, size, size);
          const pixels: number[] = [];
          for (let i = 0; i < data.length; i += 4)
            pixels.push(1 - (0.2126 * data[i]! + 0.7152 * data[i + 1]! + 0.0722 * data[i + 2]!) / 255);
          grey.push(pixels);
        }
        return grey;
      },
      { sources: pictures, size: side },
    );
  } finally {
    await painter.close();
  }
}

/** Share of the pixels in which two marks differ once each is only "ink or ground" of its own: shape alone. */
export function shapeDifference(a: readonly number[], b: readonly number[]): number {
  const inkOf = (pixels: readonly number[]): boolean[] => {
    const ground = pixels[0]!;
    const far = Math.max(...pixels.map((each) => Math.abs(each - ground)));
    return pixels.map((each) => Math.abs(each - ground) > far / 2);
  };
  const [inkA, inkB] = [inkOf(a), inkOf(b)];
  return inkA.filter((ink, place) => ink !== inkB[place]).length / inkA.length;
}
