/** The journal's entries of some time, page after page to the end, and the new ones as they come. */
import { useEffect, useState } from 'preact/hooks';
import { fetchPages, PAGE_ROWS } from '../data/all-pages.js';
import { toProblem, type ApiProblem } from '../data/api-client.js';
import type { JournalPage, JournalRow } from '../data/bodies.js';
import { readNow } from '../data/clock.js';
import { onLive } from '../data/live-events.js';
import { loadOneByOne } from '../data/one-by-one.js';

/** More entries than these are no list for a screen: it shows the newest. */
const PAGES_MOST = 5;
export const JOURNAL_ROWS_MOST = PAGES_MOST * PAGE_ROWS;
/** Entries come in bursts: one question answers all of them. */
const SETTLE_MS = 300;

/** Entries leave a span that ends now as time goes on. */
const REFRESH_MS = 300_000;
/** After a load that failed, and how often it is looked whether one is due. */
const RETRY_MS = 10_000;

export interface JournalWish {
  /** a span that ends now; null: all that there is */
  readonly lastMs: number | null;
  readonly subject: string | null;
  readonly what: string | null;
}

/** `rows` null: none came, and `problem` says why. */
export interface JournalAnswer {
  readonly rows: JournalRow[] | null;
  readonly problem: ApiProblem | null;
}

async function readPages({ lastMs, subject, what }: JournalWish, signal: AbortSignal): Promise<JournalRow[]> {
  const from = lastMs === null ? null : readNow() - lastMs;
  const asked = { from, subject, what, order: 'newest', limit: PAGE_ROWS };
  const { pages } = await fetchPages<JournalPage>('/journal', asked, PAGES_MOST, signal);
  return pages.flatMap(({ journal }) => journal);
}

/** Loads them, newest first, and again as entries come, as time goes on and after a failure. Returns the function that ends it. */
export function followJournal(wish: JournalWish, take: (answer: JournalAnswer) => void): () => void {
  let hasFailed = false;
  let answeredAt = readNow();
  const loads = loadOneByOne(async (signal) => {
    const answer = await readPages(wish, signal).then(
      (rows) => ({ rows, problem: null }),
      (error: unknown) => ({ rows: null, problem: toProblem(error) }),
    );
    hasFailed = answer.problem !== null;
    answeredAt = readNow();
    if (!signal.aborted) take(answer);
  }, SETTLE_MS);
  const timer = setInterval(() => {
    const isOld = wish.lastMs !== null && readNow() - answeredAt >= REFRESH_MS;
    if (hasFailed || isOld) loads.wish();
  }, RETRY_MS);
  const ends = [
    onLive('again', loads.wish),
    onLive('journal', ({ subject }) => (wish.subject === null || subject === wish.subject) && loads.wish()),
    loads.end,
    () => clearInterval(timer),
  ];
  return () => {
    for (const end of ends) end();
  };
}

/** Newest first; null: not loaded yet for this wish. What fails later leaves the last rows, and the problem beside them. */
export function useJournal({ lastMs, subject, what }: JournalWish): JournalAnswer {
  const key = JSON.stringify([lastMs, subject, what]);
  const [state, setState] = useState<JournalAnswer & { key: string }>({ key, rows: null, problem: null });
  useEffect(
    () =>
      followJournal({ lastMs, subject, what }, ({ rows, problem }) =>
        setState((last) => ({ key, rows: rows ?? (last.key === key ? last.rows : null), problem })),
      ),
    [key],
  );
  return state.key === key ? state : { rows: null, problem: null };
}
