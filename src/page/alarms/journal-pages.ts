/** The journal's entries of some time, page after page to the end, and the new ones as they come. */
import { useEffect, useState } from 'preact/hooks';
import { fetchBody, toProblem, type ApiProblem } from '../data/api-client.js';
import type { JournalPage, JournalRow } from '../data/bodies.js';
import { onLive } from '../data/live-events.js';

const PAGE_ROWS = 1000;
/** More entries than this are no list for a screen: the newest are kept. */
const ROWS_MOST = 5_000;
/** Entries come in bursts: one question answers all of them. */
const SETTLE_MS = 300;

interface Wish {
  readonly from: number | null;
  readonly to: number | null;
  readonly subject: string | null;
  readonly what: string | null;
}

async function readPages(wish: Wish, signal: AbortSignal): Promise<JournalRow[]> {
  const rows: JournalRow[] = [];
  let cursor: string | null = null;
  do {
    const page: JournalPage = await fetchBody<JournalPage>(
      '/journal',
      { ...wish, limit: PAGE_ROWS, cursor },
      signal,
    );
    rows.push(...page.journal);
    if (rows.length > ROWS_MOST) rows.splice(0, rows.length - ROWS_MOST);
    cursor = page.next;
  } while (cursor !== null);
  return rows.reverse();
}

/** Newest first; null: not loaded yet. */
export function useJournal(wish: Wish): { rows: JournalRow[] | null; problem: ApiProblem | null } {
  const [rows, setRows] = useState<JournalRow[] | null>(null);
  const [problem, setProblem] = useState<ApiProblem | null>(null);
  const { from, to, subject, what } = wish;
  useEffect(() => {
    let abort = new AbortController();
    let timer: ReturnType<typeof setTimeout> | null = null;
    const load = (): void => {
      timer = null;
      abort.abort();
      const mine = new AbortController();
      abort = mine;
      readPages({ from, to, subject, what }, mine.signal).then(
        (found) => {
          setRows(found);
          setProblem(null);
        },
        (error: unknown) => mine.signal.aborted || setProblem(toProblem(error)),
      );
    };
    const loadSoon = (): void => {
      timer ??= setTimeout(load, SETTLE_MS);
    };
    load();
    const ends = [
      onLive('again', loadSoon),
      onLive('journal', (entry) => (subject === null || entry.subject === subject) && loadSoon()),
    ];
    return () => {
      abort.abort();
      if (timer !== null) clearTimeout(timer);
      for (const end of ends) end();
    };
  }, [from, to, subject, what]);
  return { rows, problem };
}
