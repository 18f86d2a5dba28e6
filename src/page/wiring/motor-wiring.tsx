/** One motor: the chain of each of its sensors in full, and its commissioning. */
import { RunList } from '../commissioning/run-list.js';
import { motorOf } from '../data/plant.js';
import type { ChainLink, SensorChain } from '../data/station-bodies.js';
import { namePosition } from '../parts/alarm-words.js';
import { Age } from '../parts/age.js';
import { Moment } from '../parts/moment.js';
import { ProblemNote } from '../parts/problem-note.js';
import { RunState } from '../parts/run-state.js';
import { VerdictSign } from '../parts/verdict-sign.js';
import { LINK_VERDICTS, LINK_WORDS } from './chain-words.js';
import { useChains } from './use-wiring.js';

/** The age is told; whether it is too old is the gateway's to judge, and stands in the sign. */
const NEVER_STALE_MS = Infinity;

function LinkItem({ link }: { link: ChainLink }) {
  const { name, asks } = LINK_WORDS[link.link];
  const [kind, word] = LINK_VERDICTS[link.state];
  const isPast = link.state !== 'fault' && link.fault !== '';
  return (
    <li class={`wiring-link is-${link.state}`} data-link={link.link} data-state={link.state}>
      <VerdictSign kind={kind} word={word} onlyHeard />
      <div class="wiring-link-name">
        <strong>{name}</strong>
        <span class="station-note">{asks}</span>
      </div>
      <div class="wiring-link-at">
        {link.at === null ? <span class="quiet">–</span> : <Age at={link.at} staleAfterMs={NEVER_STALE_MS} />}
      </div>
      <div class="wiring-link-says">
        <p>{link.says}</p>
        {isPast && (
          <p class="quiet">
            Last fault{link.fault_at !== null && ' '}
            {link.fault_at !== null && <Moment at={link.fault_at} />}: {link.fault}
          </p>
        )}
        {link.todo !== '' && <p class="todo">{link.todo}</p>}
      </div>
    </li>
  );
}

function Chain({ chain }: { chain: SensorChain }) {
  const id = `chain-${chain.position}`;
  const device = chain.device === null || chain.device === '' ? 'no device named' : `device ${chain.device}`;
  return (
    <section class="panel" aria-labelledby={id}>
      <h2 id={id}>
        {namePosition(chain.position)} <span class="quiet wiring-chain-device">{device}</span>
      </h2>
      <ol class="wiring-chain">
        {chain.chain.map((link) => (
          <LinkItem key={link.link} link={link} />
        ))}
      </ol>
    </section>
  );
}

export function MotorWiring({ motor }: { motor: string }) {
  const { body, problem } = useChains(motor);
  const known = motorOf(motor).value;
  return (
    <>
      <p>
        <a class="target-link" href="/wiring">
          ← Wiring of the plant
        </a>
      </p>
      <header class="station-head">
        <h1>{motor}</h1>
        {known !== null && <RunState motor={known} />}
        <a class="button push" href={`/motor/${encodeURIComponent(motor)}`}>
          Its rates
        </a>
      </header>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null && problem === null && <p class="quiet">Tracing the chains…</p>}
      {body !== null && (
        <div class="wiring-chains">
          {body.map((chain) => (
            <Chain key={chain.sensor} chain={chain} />
          ))}
        </div>
      )}
      {body !== null && <RunList motor={motor} />}
    </>
  );
}
