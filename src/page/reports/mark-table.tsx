/** What was done, found and raised in the span, in order of time. */
import type { MarkBody } from '../../../shared/charts.js';
import { zone } from '../data/clock.js';
import { formatExact } from '../times.js';

const WORDS: Readonly<Record<MarkBody['kind'], string>> = {
  action: 'work done',
  finding: 'finding',
  alarm: 'alarm',
};
/** A sheet has so many; the CSV file has all. */
const SHOWN_MOST = 60;

export function nameMark(mark: MarkBody): string {
  if (mark.alarm === null) return WORDS[mark.kind];
  return `${WORDS.alarm} ${mark.alarm.what.replaceAll('-', ' ')}`;
}

export function sayMark(mark: MarkBody): string {
  const { action, finding, alarm, text } = mark;
  const by = action?.by ?? finding?.by ?? '';
  const head = alarm === null ? text : `${alarm.alarm}: ${text}`;
  return by === '' ? head : `${head} (${by})`;
}

export function MarkTable({ marks, hasMore }: { marks: readonly MarkBody[]; hasMore: boolean }) {
  if (marks.length === 0) return <p>Nothing was entered, and no alarm changed.</p>;
  const left = marks.length - SHOWN_MOST;
  return (
    <>
      <table class="report-table">
        <thead>
          <tr>
            <th scope="col">When</th>
            <th scope="col">What</th>
            <th scope="col">Says</th>
          </tr>
        </thead>
        <tbody>
          {marks.slice(0, SHOWN_MOST).map((mark) => (
            <tr key={`${mark.kind} ${mark.at} ${mark.text}`}>
              <td>{formatExact(Date.parse(mark.at), zone.value)}</td>
              <td>{nameMark(mark)}</td>
              <td>{sayMark(mark)}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {(left > 0 || hasMore) && (
        <p>
          {left > 0 && `${left} more are in the CSV file. `}
          {hasMore && 'There are more entries than a report reads; the journal has them all.'}
        </p>
      )}
    </>
  );
}
