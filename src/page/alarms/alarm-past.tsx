/** Everything that the journal holds of one alarm. */
import { ProblemNote } from '../parts/problem-note.js';
import { useJournal } from './journal-pages.js';
import { JournalTable } from './journal-table.js';

export function AlarmPast({ id }: { id: string }) {
  const { rows, problem } = useJournal({ lastMs: null, subject: id, what: null });
  return (
    <section aria-labelledby="past-title" class="alarm-past">
      <h2 id="past-title">What happened</h2>
      {problem !== null && <ProblemNote problem={problem} />}
      {rows === null ? null : rows.length === 0 ? (
        <p>Nothing yet.</p>
      ) : (
        <JournalTable rows={rows} isOfOne={true} />
      )}
    </section>
  );
}
