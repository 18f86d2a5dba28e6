/** The view "Plan": the list for the next outage, each motor with its reason, and what speaks for and against explanations. */
import type { Dossier, PlanBody, PlanLine } from '../data/advice-bodies.js';
import { useBody, useWhole } from '../parts/use-body.js';
import { ProblemNote } from '../parts/problem-note.js';
import type { ScreenProps } from '../view.js';
import { DossierView } from './dossier-view.js';
import { formatCount } from '../times.js';
import { ColumnHeads } from '../parts/column-heads.js';
import '../parts/view.css';
import './plan.css';

/** What put a motor where it stands, in words. Grounds that are not listed here are told by their own name. */
const GROUND_WORDS: Readonly<Record<string, string>> = {
  nothing: 'nothing stands out',
};

function nameGround(ground: string): string {
  return GROUND_WORDS[ground] ?? ground.replaceAll('-', ' ');
}

function PlanRow({ line, isOpen }: { line: PlanLine; isOpen: boolean }) {
  return (
    <tr class={isOpen ? 'is-open' : ''}>
      <td class="number">{line.rank}</td>
      <th scope="row">
        <a
          class="plan-link"
          href={`/plan/${encodeURIComponent(line.motor)}`}
          aria-current={isOpen ? 'true' : undefined}
        >
          {line.motor}
        </a>
      </th>
      <td>{nameGround(line.ground)}</td>
      <td>{line.reason}</td>
      <td class="number">{formatCount(line.dose_pulses)}</td>
    </tr>
  );
}

function PlanTable({ body, open }: { body: PlanBody; open: string }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label="Motors for the next outage">
      <table class="plan-table">
        <caption>{body.standing}</caption>
        <ColumnHeads titles={['Rank', 'Motor', 'Ground', 'Why it stands here', 'Pulses of its bearings']} />
        <tbody>
          {body.motors.map((line) => (
            <PlanRow key={line.motor} line={line} isOpen={line.motor === open} />
          ))}
        </tbody>
      </table>
    </div>
  );
}

function OpenDossier({ motor }: { motor: string }) {
  const { body, problem } = useBody<Dossier>(`/plan/${encodeURIComponent(motor)}`);
  if (problem !== null) return <ProblemNote problem={problem} />;
  if (body === null) return <p class="quiet">Gathering what is known of {motor}…</p>;
  return <DossierView dossier={body} />;
}

export function PlanScreen({ rest }: ScreenProps) {
  const open = rest[0] ?? '';
  const { body, problem, reload } = useWhole<PlanBody>('/plan', 'motors');
  return (
    <>
      <header class="view-head">
        <h1>For the next outage</h1>
        <button type="button" onClick={reload}>
          Look again
        </button>
      </header>
      {problem !== null && <ProblemNote problem={problem} />}
      {body === null && problem === null && <p class="quiet">Ranking…</p>}
      {body !== null && <PlanTable body={body} open={open} />}
      {open === '' ? (
        body !== null && (
          <p class="quiet">
            Choose a motor to see what was tried, what could explain its counts, and what would confirm it.
          </p>
        )
      ) : (
        <OpenDossier key={open} motor={open} />
      )}
    </>
  );
}
