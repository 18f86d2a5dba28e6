/** Rehearsals of a running gateway: the text of a candidate in, checked as `check` does, played beside what runs. */
import { readFile } from 'node:fs/promises';
import type { AlarmChange, BeginAnswer, Rehearsals } from '../api/deps.js';
import { changeAlarms } from '../config/alarm-changes.js';
import { parseConfig } from '../config/parse.js';
import { formatProblem } from '../config/problem.js';
import type { Plan } from '../core/plan.js';
import { judgeCandidate } from '../rehearsal/candidate.js';
import { RehearsalDesk } from '../rehearsal/desk.js';

/** Stands where the name of a file would in problems. */
const CANDIDATE = 'candidate';

/** The reason for the setpoint of an alarm that the file does not have yet; it never gets into force. */
const RATIONALE = 'tried in a rehearsal';

function isThere({ rateAlarms }: Plan, change: AlarmChange): boolean {
  return rateAlarms.some(({ motor, kind }) => motor === change.motor && kind === change.kind);
}

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
    change: (text, changes) =>
      changeAlarms(
        text,
        changes.map((change) => (isThere(running(), change) ? change : { ...change, rationale: RATIONALE })),
      ),
    list: () => desk.list(),
    find: (id) => desk.find(id),
    cancel: (id) => desk.cancel(id),
    close: () => desk.close(),
  };
}
