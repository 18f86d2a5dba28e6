/** All that is known of one motor of the list: what was tried, hypotheses with what would confirm them, cautions. */
import type { Dossier, Hypothesis } from '../data/advice-bodies.js';
import { sayGround } from '../parts/ground-words.js';
import { Moment } from '../parts/moment.js';

interface Sourced {
  readonly text: string;
  readonly source: string;
}

function Source({ source }: { source: string }) {
  return <span class="source">{source}</span>;
}

function SourcedList({ title, items }: { title: string; items: readonly Sourced[] }) {
  if (items.length === 0) return null;
  return (
    <>
      <h4>{title}</h4>
      <ul>
        {items.map((item) => (
          <li key={item.text}>
            {item.text} <Source source={item.source} />
          </li>
        ))}
      </ul>
    </>
  );
}

function tellGrounds(grounds: Hypothesis['speaks_for']): Sourced[] {
  return grounds.map((ground) => ({ text: sayGround(ground), source: ground.source }));
}

function Remedies({ remedies }: { remedies: Hypothesis['remedies'] }) {
  if (remedies.length === 0) return null;
  return (
    <>
      <h4>Usual remedies</h4>
      <ul>
        {remedies.map(({ text, source, trap, tried }) => (
          <li key={text}>
            {text} <Source source={source} />
            <p>
              <strong>What it does not cure:</strong> {trap.text} <Source source={trap.source} />
            </p>
            {tried !== null && (
              <p>
                <strong>Tried here:</strong> {tried}
              </p>
            )}
          </li>
        ))}
      </ul>
    </>
  );
}

function HypothesisView({ hypothesis, isFirst }: { hypothesis: Hypothesis; isFirst: boolean }) {
  const { name, about, weight, speaks_for, speaks_against, not_known, confirm, refute, remedies } =
    hypothesis;
  return (
    <details class="hypothesis" open={isFirst}>
      <summary>
        <strong>{name}</strong> <span class="quiet">{weight}</span>
      </summary>
      <p>
        {about.text} <Source source={about.source} />
      </p>
      <div class="for-against">
        <div>
          <SourcedList title="Speaks for it" items={tellGrounds(speaks_for)} />
        </div>
        <div>
          <SourcedList title="Speaks against it" items={tellGrounds(speaks_against)} />
        </div>
      </div>
      {not_known.length > 0 && (
        <>
          <h4>Not known</h4>
          <ul>
            {not_known.map((text) => (
              <li key={text}>{text}</li>
            ))}
          </ul>
        </>
      )}
      <SourcedList title="Would confirm it" items={confirm} />
      <SourcedList title="Would refute it" items={refute} />
      <Remedies remedies={remedies} />
    </details>
  );
}

function Tried({ dossier }: { dossier: Dossier }) {
  const motor = dossier.line.motor;
  if (dossier.remedies.length === 0) return <p class="quiet">No remedy is on record.</p>;
  return (
    <ul>
      {dossier.remedies.map(({ sensor, action, sentence }) => (
        <li key={`${sensor} ${action?.id ?? 0}`}>
          {action !== null && (
            <>
              <a href={`/compare/${encodeURIComponent(motor)}?action=${action.id}`}>{action.text}</a>,{' '}
              <Moment at={action.at} />:{' '}
            </>
          )}
          {sentence}
        </li>
      ))}
    </ul>
  );
}

export function DossierView({ dossier }: { dossier: Dossier }) {
  const { line, advice } = dossier;
  const observed = advice.observations.filter(({ value }) => value !== null);
  return (
    <section class="panel dossier" aria-labelledby="dossier-title">
      <h2 id="dossier-title">{line.motor}</h2>
      <p>{line.reason}</p>
      <p>
        <a href={`/motor/${encodeURIComponent(line.motor)}?span=2592000000`}>Its rates over 30 days</a>
      </p>
      <h3>What was tried</h3>
      <Tried dossier={dossier} />
      <h3>What could explain its counts</h3>
      <p class="quiet">{advice.standing}</p>
      {advice.hypotheses.map((hypothesis, i) => (
        <HypothesisView key={hypothesis.mechanism} hypothesis={hypothesis} isFirst={i === 0} />
      ))}
      {advice.hypotheses.length === 0 && <p>Nothing was observed that would point to one.</p>}
      {observed.length > 0 && (
        <details>
          <summary>What was observed</summary>
          <ul>
            {observed.map(({ id, text }) => (
              <li key={id}>{text}</li>
            ))}
          </ul>
        </details>
      )}
      <h3>Cautions</h3>
      <ul class="cautions">
        {advice.cautions.map(({ id, text, source }) => (
          <li key={id}>
            {text} <Source source={source} />
          </li>
        ))}
      </ul>
    </section>
  );
}
