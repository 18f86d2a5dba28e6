/** What each sensor heard in a step, beside what was expected of it from the ten minutes before. */
import type { HeardRow } from '../data/station-bodies.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { formatCount, formatRate, formatSpan } from '../times.js';

/** That it hears something is good news only of the motor's own sensors, and not at standstill. */
function Verdict({ row, isStill, isOver }: { row: HeardRow; isStill: boolean; isOver: boolean }) {
  if (row.heard) return <VerdictSign kind={row.own && !isStill ? 'good' : 'look'} word="heard" />;
  if (!row.covered && !isOver) return <VerdictSign kind="busy" word="readings still to come" />;
  return <VerdictSign kind="unknown" word={row.ms === 0 ? 'no reading' : 'no more than before'} />;
}

export function HeardTable({
  rows,
  title,
  isStill,
  isOver,
}: {
  rows: readonly HeardRow[];
  title: string;
  /** of a stop: nothing should be heard */
  isStill: boolean;
  /** of a step that has ended: no further reading is waited for */
  isOver: boolean;
}) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={title}>
      <table class="run-heard">
        <thead>
          <tr>
            {['Sensor', 'Heard', 'Counted', 'Expected from before', 'Over'].map((name) => (
              <th scope="col" key={name}>
                {name}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.sensor}>
              <th scope="row">
                {row.sensor}
                {!row.own && <span class="station-note">of another motor</span>}
              </th>
              <td>
                <Verdict row={row} isStill={isStill} isOver={isOver} />
              </td>
              <td class="number">{formatCount(row.pulses)}</td>
              <td class="number">{row.expected === null ? 'nothing before' : formatRate(row.expected)}</td>
              <td class="number">{row.ms === 0 ? 'no reading' : formatSpan(row.ms)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
