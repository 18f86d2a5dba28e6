/** Who sends what nobody expects, and what was denied with topic and rule. */
import { ProblemNote } from '../parts/problem-note.js';
import { Moment } from '../parts/moment.js';
import { formatCount } from '../times.js';
import type { Stranger } from '../data/station-bodies.js';
import { useStrangers } from './use-wiring.js';
import { ColumnHeads } from '../parts/column-heads.js';

const KIND_WORDS: Readonly<Record<Stranger['kind'], string>> = {
  'failed-login': 'Login failed',
  'denied-publish': 'Publish denied',
  'denied-subscribe': 'Subscription denied',
  'unknown-sender': 'Unknown sender',
};

/** A long topic is broken between its levels. */
function Topic({ text }: { text: string }) {
  if (text === '') return <>–</>;
  return (
    <>
      {text.split('/').map((level, place) => (
        <>
          {place > 0 && (
            <>
              /<wbr />
            </>
          )}
          {level}
        </>
      ))}
    </>
  );
}

function Who({ client, login }: { client: string; login: string }) {
  return (
    <>
      {client === '' ? 'no client id' : client}
      {login !== '' && <span class="station-note">login {login}</span>}
    </>
  );
}

function StrangerRow({ row }: { row: Stranger }) {
  return (
    <tr>
      <th scope="row">{KIND_WORDS[row.kind]}</th>
      <td class="wiring-topic">
        <Topic text={row.topic} />
      </td>
      <td>
        <Who client={row.client} login={row.login} />
      </td>
      <td class="number">{formatCount(row.count)}</td>
      <td>
        <Moment at={row.last_at} />
        {row.count > 1 && (
          <span class="station-note">
            first <Moment at={row.first_at} />
          </span>
        )}
      </td>
      <td class="station-text">
        {row.rule}
        <p class="todo">{row.todo}</p>
      </td>
    </tr>
  );
}

export function StrangerTable() {
  const { body, problem } = useStrangers();
  return (
    <section class="wiring-strangers" aria-labelledby="strangers-title">
      <h2 id="strangers-title">Turned away, and unknown</h2>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null && problem === null && <p class="quiet">Looking…</p>}
      {body !== null && body.strangers.length === 0 && (
        <p class="quiet">Nobody was turned away, and every sender is in the configuration.</p>
      )}
      {body !== null && body.strangers.length > 0 && (
        <div class="scroll" tabIndex={0} role="region" aria-label="Who was turned away, and unknown senders">
          <table>
            <ColumnHeads titles={['What', 'Topic', 'Client', 'Times', 'Last', 'Rule, and what to do']} />
            <tbody>
              {body.strangers.map((row) => (
                <StrangerRow key={`${row.kind} ${row.topic} ${row.client} ${row.login}`} row={row} />
              ))}
            </tbody>
          </table>
        </div>
      )}
      {body !== null && body.next !== null && (
        <p class="quiet">The newest {body.strangers.length} are shown; GET /api/v1/strangers has the rest.</p>
      )}
    </section>
  );
}
