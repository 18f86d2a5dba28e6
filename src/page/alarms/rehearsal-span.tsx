/** How much of the past a rehearsal plays. */
import { readNow } from '../data/clock.js';
import { DAY_MS } from '../times.js';

export function SpanChoice() {
  return (
    <label>
      Play the last
      <select name="days">
        <option value="1">24 hours</option>
        <option value="7">7 days</option>
        <option value="30">30 days</option>
      </select>
    </label>
  );
}

/** RFC 3339, of a form with the choice in it. */
export function spanStart(form: HTMLFormElement): string {
  return new Date(readNow() - Number(new FormData(form).get('days')) * DAY_MS).toISOString();
}
