/** Follows a list over its pages to the end, or to a limit that it tells. */
import { fetchBody } from './api-client.js';

type Parameters = Readonly<Record<string, string | number | null | undefined>>;

export const PAGE_ROWS = 1_000;

/** `isWhole` false: there was more than `pagesMost` pages hold. Rejects as `fetchBody` does. */
export async function fetchPages<B extends { readonly next: string | null }>(
  path: string,
  parameters: Parameters,
  pagesMost: number,
  signal?: AbortSignal,
): Promise<{ readonly pages: readonly B[]; readonly isWhole: boolean }> {
  const pages: B[] = [];
  let cursor: string | null = null;
  for (let page = 0; page < pagesMost; page++) {
    const body: B = await fetchBody<B>(path, { limit: PAGE_ROWS, ...parameters, cursor }, signal);
    pages.push(body);
    cursor = body.next;
    if (cursor === null) return { pages, isWhole: true };
  }
  return { pages, isWhole: false };
}

/** Enough for 20,000 items; a plant has 1,000 sensors. */
const WHOLE_PAGES_MOST = 20;

/**
 * A list as one body: its first page with the items of all of them. `next` is null but for a list that is longer than the page
 * takes. Rejects as `fetchBody` does.
 */
export async function fetchWhole<B extends { readonly next: string | null }>(
  path: string,
  list: keyof B,
  parameters: Parameters = {},
  signal?: AbortSignal,
): Promise<B> {
  const { pages } = await fetchPages<B>(path, parameters, WHOLE_PAGES_MOST, signal);
  const items = pages.flatMap((page) => page[list] as unknown[]);
  return { ...pages[0]!, [list]: items, next: pages.at(-1)!.next };
}
