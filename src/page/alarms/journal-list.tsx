/** What happened and who did what, over a span of days, newest first. */
import { JOURNAL_CHANGES } from '../../../shared/alarm-terms.js';
import { ProblemNote } from '../parts/problem-note.js';
import { setParameters } from '../router.js';
import { DAY_MS, HOUR_MS } from '../times.js';
import { JOURNAL_ROWS_MOST, useJournal } from './journal-pages.js';
import { JournalTable } from './journal-table.js';
import { CHANGE_WORDS } from './journal-words.js';

const SPANS: Readonly<Record<string, readonly [name: string, ms: number]>> = {
  shift: ['8 hours', 8 * HOUR_MS],
  day: ['24 hours', DAY_MS],
  week: ['7 days', 7 * DAY_MS],
  month: ['30 days', 30 * DAY_MS],
};

export function JournalList({ query }: { query: URLSearchParams }) {
  const span = query.get('span') ?? 'day';
  const what = query.get('what');
  const lastMs = (SPANS[span] ?? SPANS['day']!)[1];
  const { rows, problem } = useJournal({ lastMs, subject: null, what });
  return (
    <section aria-labelledby="journal-title" class="alarm-list">
      <h1 id="journal-title">What happened</h1>
      <form class="filters" aria-label="Filters" onSubmit={(event) => event.preventDefault()}>
        <label>
          The last
          <select value={span} onChange={(event) => setParameters({ span: event.currentTarget.value })}>
            {Object.entries(SPANS).map(([value, [name]]) => (
              <option key={value} value={value}>
                {name}
              </option>
            ))}
          </select>
        </label>
        <label>
          What
          <select value={what ?? ''} onChange={(event) => setParameters({ what: event.currentTarget.value })}>
            <option value="">everything</option>
            {JOURNAL_CHANGES.filter((each) => each !== '').map((each) => (
              <option key={each} value={each}>
                {CHANGE_WORDS[each]}
              </option>
            ))}
          </select>
        </label>
      </form>
      {problem !== null && <ProblemNote problem={problem} />}
      <p role="status">
        {rows === null
          ? problem === null
            ? 'Loading…'
            : ''
          : rows.length === 1
            ? '1 entry'
            : rows.length < JOURNAL_ROWS_MOST
              ? `${rows.length} entries`
              : `the newest ${rows.length} entries; tallypost journal export writes all of them`}
      </p>
      {rows !== null && rows.length > 0 && <JournalTable rows={rows} isOfOne={false} />}
    </section>
  );
}
