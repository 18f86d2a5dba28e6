/** The configuration in force, and what the file would change. */
import type { GatewayBody } from '../data/station-bodies.js';
import { FactList } from '../parts/fact-list.js';
import { Moment } from '../parts/moment.js';
import type { VerdictKind } from '../parts/verdicts.js';
import { foldChanges } from './change-rows.js';
import { PartFrame } from './part-frame.js';
import { ColumnHeads } from '../parts/column-heads.js';

type Configuration = GatewayBody['configuration'];

const KINDS: Readonly<Record<Configuration['state'], VerdictKind>> = {
  same: 'good',
  differs: 'look',
  'not-valid': 'wrong',
  'not-read': 'unknown',
};
/** A value is shown so far; the file has the rest. */
const VALUE_CHARACTERS_MOST = 120;

function Value({ text }: { text: string | null }) {
  if (text === null) return <span class="quiet">not there</span>;
  const isLong = text.length > VALUE_CHARACTERS_MOST;
  return <code>{isLong ? `${text.slice(0, VALUE_CHARACTERS_MOST)}…` : text}</code>;
}

function Changes({ configuration: { changes, more_changes: more } }: { configuration: Configuration }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="What the file would change">
      <table>
        <caption>What the file would change</caption>
        <ColumnHeads titles={['Setting', 'In force', 'In the file', 'Takes effect']} />
        <tbody>
          {foldChanges(changes).map(({ path, in_force: inForce, file, needs_restart: isLate }) => (
            <tr key={path}>
              <th scope="row">{path}</th>
              <td>
                <Value text={inForce} />
              </td>
              <td>
                <Value text={file} />
              </td>
              <td>{isLate ? 'at the next start' : 'with SIGHUP'}</td>
            </tr>
          ))}
        </tbody>
      </table>
      {more > 0 && <p class="quiet">And {more} more.</p>}
    </div>
  );
}

export function ConfigurationPart({ configuration }: { configuration: Configuration }) {
  const { file, revision, in_force_since: since, state, changes, problems, says } = configuration;
  const words = state === 'differs' ? says : state === 'same' ? 'in force as the file says' : says;
  return (
    <PartFrame name="configuration" title="Configuration in force" kind={KINDS[state]} says={words} isWide>
      <FactList
        facts={[
          ['Revision', <code>{revision}</code>],
          ['In force since', <Moment at={since} />],
          ['File', file],
          [
            'Revision of the file',
            configuration.file_revision === null ? 'not known' : <code>{configuration.file_revision}</code>,
          ],
        ]}
      />
      {problems.length > 0 && (
        <ul class="gateway-faults">
          {problems.map((problem) => (
            <li key={problem}>{problem}</li>
          ))}
        </ul>
      )}
      {changes.length > 0 && <Changes configuration={configuration} />}
    </PartFrame>
  );
}
