/** Where the motor stands on the list for the next outage, what was tried, and what could explain its counts. */
import type { Dossier } from '../data/advice-bodies.js';
import { sayGround } from '../parts/ground-words.js';

function Hypothesis({ hypothesis }: { hypothesis: Dossier['advice']['hypotheses'][number] }) {
  const { name, weight, speaks_for: grounds, speaks_against: against, confirm } = hypothesis;
  return (
    <li>
      <strong>{name}</strong> ({weight}).
      {grounds.length > 0 && ` Speaks for it: ${grounds.map(sayGround).join('; ')}.`}
      {against.length > 0 && ` Speaks against it: ${against.map(sayGround).join('; ')}.`}
      {confirm.length > 0 && (
        <>
          {' '}
          Would confirm it:{' '}
          {confirm.map(({ text, source }, place) => (
            <>
              {place > 0 && '; '}
              {text} <span class="source-of">[{source}]</span>
            </>
          ))}
          .
        </>
      )}
    </li>
  );
}

export function HypothesisPart({ dossier }: { dossier: Dossier }) {
  const { line, remedies, advice } = dossier;
  return (
    <section class="report-part" aria-labelledby="report-plan">
      <h2 id="report-plan">For the next outage</h2>
      <p>
        When the report was made, place {line.rank} on the list: {line.reason}.
      </p>
      {remedies.length > 0 && (
        <>
          <h3>What was tried</h3>
          <ul class="report-notes">
            {remedies.map(({ sensor, action, sentence }) => (
              <li key={`${sensor} ${action?.id ?? 0}`}>
                {action !== null && `${action.text}: `}
                {sentence}
              </li>
            ))}
          </ul>
        </>
      )}
      <h3>What could explain the counts</h3>
      <p>{advice.standing}</p>
      {advice.hypotheses.length === 0 && <p>Nothing was observed that would point to one.</p>}
      <ul class="report-notes">
        {advice.hypotheses.map((hypothesis) => (
          <Hypothesis key={hypothesis.mechanism} hypothesis={hypothesis} />
        ))}
      </ul>
    </section>
  );
}
