/** A refusal in words: what happened, and what to do. */
import type { ApiProblem } from '../data/api-client.js';

export function ProblemNote({ problem }: { problem: ApiProblem }) {
  return (
    <div class="problem" role="alert">
      <strong>{problem.title}.</strong> {problem.detail}
      {problem.faults.length > 0 && (
        <ul>
          {problem.faults.map(({ name, fault }) => (
            <li key={name + fault}>
              {name}: {fault}
            </li>
          ))}
        </ul>
      )}
      {problem.hint !== '' && <p class="problem-hint">{problem.hint}</p>}
    </div>
  );
}
