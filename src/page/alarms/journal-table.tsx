/** Entries of the journal as a table, newest first. */
import type { JournalRow } from '../data/bodies.js';
import { zone } from '../data/clock.js';
import { formatExact, formatSpan } from '../times.js';
import { nameChange } from './journal-words.js';

/** From then on it is worth saying that the gateway learnt of it later. */
const LATE_MS = 120_000;

/** `isOfOne`: all are of one alarm, which need not be named each time. */
export function JournalTable({ rows, isOfOne }: { rows: readonly JournalRow[]; isOfOne: boolean }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Entries of the journal">
      <table class="journal">
        <thead>
          <tr>
            <th scope="col">When</th>
            {!isOfOne && <th scope="col">About</th>}
            <th scope="col">What</th>
            <th scope="col">Who</th>
            <th scope="col">Says</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.id}>
              <td>
                <time dateTime={row.at}>{formatExact(Date.parse(row.at), zone.value)}</time>
                <Late row={row} />
              </td>
              {!isOfOne && (
                <th scope="row">
                  {row.subject.includes('.') ? <SubjectLink id={row.subject} /> : row.subject}
                </th>
              )}
              <td>{nameChange(row)}</td>
              <td>{row.who === '' ? 'the gateway' : row.who}</td>
              <td>{row.text}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function SubjectLink({ id }: { id: string }) {
  return (
    <a class="row-link" href={`/alarms/${encodeURIComponent(id)}`}>
      {id}
    </a>
  );
}

function Late({ row }: { row: JournalRow }) {
  const lateMs = Date.parse(row.detected_at) - Date.parse(row.at);
  return lateMs < LATE_MS ? null : <span class="quiet"> known {formatSpan(lateMs)} later</span>;
}
