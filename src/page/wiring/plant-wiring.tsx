/** Every sensor of the plant in one table: how far its messages come, and above it what is broken and what to do. */
import type { SensorChain } from '../data/station-bodies.js';
import { namePosition } from '../parts/alarm-words.js';
import { ProblemNote } from '../parts/problem-note.js';
import { setParameters } from '../router.js';
import { ChainCell } from './chain-cell.js';
import { countChains, LINK_ORDER, LINK_WORDS, listBreaks, type Break } from './chain-words.js';
import { StrangerTable } from './stranger-table.js';
import { useChains } from './use-wiring.js';

const NAMED_MOST = 8;

function Places({ sensors, isAll }: { sensors: readonly string[]; isAll: boolean }) {
  const more = sensors.length - NAMED_MOST;
  if (isAll && sensors.length > 1) return <>every sensor</>;
  return (
    <>
      {sensors.slice(0, NAMED_MOST).map((sensor, place) => (
        <>
          {place > 0 && ', '}
          <a href={`/wiring/${encodeURIComponent(sensor.split('/')[0] ?? '')}`}>{sensor}</a>
        </>
      ))}
      {more > 0 && ` and ${more} more`}
    </>
  );
}

/** `of`: how many sensors there are. */
function BrokenLine({ item, of }: { item: Break; of: number }) {
  const { link, says, todo, sensors } = item;
  return (
    <li class="wiring-break">
      <p>
        <strong>{LINK_WORDS[link].name}</strong> fails at{' '}
        <Places sensors={sensors} isAll={sensors.length === of} />: {says}.
      </p>
      {todo !== '' && <p class="todo">{todo}</p>}
    </li>
  );
}

function Summary({ chains }: { chains: readonly SensorChain[] }) {
  const { held, broken, open } = countChains(chains);
  const parts = [`${held} of ${chains.length} chains hold`];
  if (broken > 0) parts.push(`${broken} broken`);
  if (open > 0) parts.push(`${open} not known yet as a whole`);
  return <p class="wiring-summary">{parts.join(', ')}.</p>;
}

function byMotor(chains: readonly SensorChain[]): (readonly [string, SensorChain[]])[] {
  const found = new Map<string, SensorChain[]>();
  for (const chain of chains) {
    const list = found.get(chain.motor) ?? [];
    list.push(chain);
    found.set(chain.motor, list);
  }
  return [...found];
}

function ChainTable({ chains }: { chains: readonly SensorChain[] }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="How far the messages of each sensor come">
      <table class="wiring-chain-table">
        <thead>
          <tr>
            <th scope="col">Motor</th>
            <th scope="col">Position</th>
            {LINK_ORDER.map((link) => (
              <th scope="col" key={link} title={LINK_WORDS[link].asks}>
                {LINK_WORDS[link].name}
              </th>
            ))}
          </tr>
        </thead>
        {byMotor(chains).map(([motor, sensors]) => (
          <tbody key={motor}>
            {sensors.map(({ sensor, position, chain }, row) => (
              <tr key={sensor}>
                {row === 0 && (
                  <th scope="rowgroup" rowSpan={sensors.length}>
                    <a class="target-link" href={`/wiring/${encodeURIComponent(motor)}`}>
                      {motor}
                    </a>
                  </th>
                )}
                <th scope="row">{namePosition(position)}</th>
                {chain.map((link) => (
                  <ChainCell key={link.link} link={link} />
                ))}
              </tr>
            ))}
          </tbody>
        ))}
      </table>
    </div>
  );
}

export function PlantWiring({ onlyBroken }: { onlyBroken: boolean }) {
  const { body, problem } = useChains(null);
  const shown = body?.filter(({ broken }) => !onlyBroken || broken !== null) ?? [];
  const breaks = listBreaks(body ?? []);
  return (
    <>
      <header class="station-head">
        <h1>Wiring</h1>
        {body !== null && <Summary chains={body} />}
        <label class="beside push">
          <input
            type="checkbox"
            checked={onlyBroken}
            onChange={(event) => setParameters({ show: event.currentTarget.checked ? 'broken' : null })}
          />{' '}
          only what is broken
        </label>
      </header>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null && problem === null && <p class="quiet">Tracing the chains…</p>}
      {breaks.length > 0 && (
        <section class="panel" aria-labelledby="breaks-title">
          <h2 id="breaks-title">What is broken, and what to do</h2>
          <ul class="wiring-breaks">
            {breaks.map((item) => (
              <BrokenLine key={`${item.link} ${item.says} ${item.todo}`} item={item} of={body?.length ?? 0} />
            ))}
          </ul>
        </section>
      )}
      {body !== null && shown.length > 0 && <ChainTable chains={shown} />}
      {body !== null && shown.length === 0 && <p class="quiet">Nothing is broken.</p>}
      <StrangerTable />
    </>
  );
}
