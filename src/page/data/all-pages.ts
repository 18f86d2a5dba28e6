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
