/** Rehearsals of a running gateway: the text of a candidate in, checked as `check` does, played beside what runs. */
import { readFile } from 'node:fs/promises';
import type { BeginAnswer, Rehearsals } from '../../api/deps.js';
import { parseConfig } from '../../config/parse.js';
import { formatProblem } from '../../config/problem.js';
import type { Plan } from '../../core/plan.js';
import { judgeCandidate } from '../../rehearsal/candidate.js';
import { RehearsalDesk } from '../../rehearsal/desk.js';

/** Stands where the name of a file would in problems. */
const CANDIDATE = 'candidate';

/** `file`: of the configuration. `running`: the plan in force; a reload changes it. `close` ends the one that runs. */
export function openRehearsals(
  dataDir: string,
  file: string,
  running: () => Plan,
  now: () => number,
): Rehearsals & { close(): void } {
  const desk = new RehearsalDesk(dataDir, now);
  return {
    begin({ text, from, to }): BeginAnswer {
      const busy = desk.running();
      if (busy !== null) return { ok: false, reason: 'busy', running: busy.id };
      const parsed = parseConfig(text, CANDIDATE);
      if (!parsed.ok) return { ok: false, reason: 'invalid', problems: parsed.problems.map(formatProblem) };
      const plan = running();
      const { refusals } = judgeCandidate(plan, parsed.plan);
      if (refusals.length > 0) return { ok: false, reason: 'refused', problems: refusals };
      return { ok: true, job: desk.begin({ running: plan, candidate: parsed.plan, from, to })! };
    },
    readFile: () => readFile(file, 'utf8').catch(() => null),
    list: () => desk.list(),
    find: (id) => desk.find(id),
    cancel: (id) => desk.cancel(id),
    close: () => desk.close(),
  };
}
