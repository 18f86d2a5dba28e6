/** A table of the store, asked for page after page. */
import type { Page } from '../store/reader.js';

const PAGE_ROWS = 2000;

/** Until there is none. */
export function* pageAll<T>(
  ask: (place: { limit: number; cursor: string | null }) => Page<T>,
): Generator<readonly T[]> {
  let cursor: string | null = null;
  do {
    const page: Page<T> = ask({ limit: PAGE_ROWS, cursor });
    yield page.items;
    cursor = page.next;
  } while (cursor !== null);
}
