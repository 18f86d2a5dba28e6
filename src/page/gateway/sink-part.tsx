/** The receivers: what they have, what waits, and what they refuse. */
import { Moment } from '../parts/moment.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { formatCount } from '../times.js';
import { PartFrame } from './part-frame.js';
import type { SinkLine } from './sink-rows.js';
import { ColumnHeads } from '../parts/column-heads.js';

function formatKnown(value: number | null): string {
  return value === null ? '–' : formatCount(value);
}

function judge(sinks: readonly SinkLine[]) {
  if (sinks.length === 0) return ['unknown', 'no receiver is configured'] as const;
  const failing = sinks.filter(({ verdict }) => verdict[0] === 'wrong').length;
  if (failing > 0)
    return ['wrong', `${failing} of ${sinks.length} receivers fail: what waits is kept`] as const;
  const open = sinks.filter(({ at }) => at === null).length;
  const behind = sinks.filter(({ verdict }) => verdict[0] === 'look').length;
  if (behind > 0) return ['look', `${behind} of ${sinks.length} receivers are behind`] as const;
  if (open > 0) return ['unknown', `${open} of ${sinks.length} receivers have taken nothing yet`] as const;
  return [
    'good',
    sinks.length === 1 ? 'the receiver is served' : `all ${sinks.length} receivers are served`,
  ] as const;
}

/** `toCome`: names that only the configuration file has. */
export function SinkPart({ sinks, toCome }: { sinks: readonly SinkLine[]; toCome: readonly string[] }) {
  const [kind, says] = judge(sinks);
  return (
    <PartFrame name="sinks" title="Receivers" kind={kind} says={says} isWide>
      {sinks.length > 0 && (
        <div class="scroll" tabIndex={0} role="region" aria-label="Receivers">
          <table>
            <ColumnHeads
              titles={[
                'Receiver',
                'State',
                'Last delivery',
                'Waiting',
                'Backlog',
                'Refused',
                'Given up',
                'Says',
              ]}
            />
            <tbody>
              {sinks.map((sink) => (
                <tr key={sink.name}>
                  <th scope="row">
                    {sink.name} <span class="quiet">{sink.kind}</span>
                  </th>
                  <td>
                    <VerdictSign kind={sink.verdict[0]} word={sink.verdict[1]} />
                  </td>
                  <td>{sink.at === null ? 'none yet' : <Moment at={sink.at} />}</td>
                  <td class="number">{formatCount(sink.waiting)}</td>
                  <td class="number">{formatKnown(sink.backlog)}</td>
                  <td class="number">{formatKnown(sink.refused)}</td>
                  <td class="number">{formatKnown(sink.lost)}</td>
                  <td class="station-text">
                    {sink.says}
                    {sink.file !== '' && <p class="todo">{sink.file}</p>}
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
      {kind === 'wrong' && (
        <p class="todo">
          See that it runs, can be reached and has room, and compare address and login with the configuration;
          tallypost sinks test NAME says more.
        </p>
      )}
      {toCome.length > 0 && (
        <p class="todo">In the file, and served from the next start on: {toCome.join(', ')}.</p>
      )}
    </PartFrame>
  );
}
