/** The servers for PLC and HMI: whether they listen, and who is connected. Shown where one is configured. */
import type { GatewayBody } from '../data/station-bodies.js';
import type { VerdictKind } from '../parts/verdicts.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { formatCount } from '../times.js';
import { PartFrame } from './part-frame.js';
import { ColumnHeads } from '../parts/column-heads.js';

type PlcLine = GatewayBody['plc'][number];

function judge({ state, port, clients }: PlcLine): VerdictKind {
  if (port === null) return state === 'starting' ? 'busy' : 'wrong';
  return clients === 0 ? 'unknown' : 'good';
}

function judgeAll(lines: readonly PlcLine[]): readonly [VerdictKind, string] {
  const kinds = lines.map(judge);
  const failing = kinds.filter((kind) => kind === 'wrong').length;
  if (failing > 0) return ['wrong', `${failing} of ${lines.length} servers do not listen`];
  if (kinds.includes('busy')) return ['busy', 'starting'];
  return kinds.includes('unknown')
    ? ['unknown', 'they listen, not all are asked']
    : ['good', 'they listen, and are asked'];
}

function formatKnown(value: number | null): string {
  return value === null ? '–' : formatCount(value);
}

export function PlcPart({ lines }: { lines: readonly PlcLine[] }) {
  if (lines.length === 0) return null;
  const [kind, says] = judgeAll(lines);
  return (
    <PartFrame name="plc" title="PLC and HMI" kind={kind} says={says} isWide>
      <div class="scroll" tabIndex={0} role="region" aria-label="Servers for PLC and HMI">
        <table>
          <ColumnHeads titles={['Server', 'Connected', 'Requests', 'Refused', 'Restarts', 'Says']} />
          <tbody>
            {lines.map((line) => (
              <tr key={line.server}>
                <th scope="row">{line.server}</th>
                <td class="number">{formatCount(line.clients)}</td>
                <td class="number">{formatKnown(line.requests)}</td>
                <td class="number">{formatKnown(line.refused)}</td>
                <td class="number">{formatCount(line.restarts)}</td>
                <td class="station-text">
                  <VerdictSign kind={judge(line)} word={line.says} />
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <p class="quiet">
        For information only, never an interlock, trip or protection input; tallypost registers prints the
        map.
      </p>
    </PartFrame>
  );
}
