/**
 * The text of a candidate, read and judged as `check` does. In a file of its own, because what reads a configuration takes some 20 MB
 * of a thread: it is loaded with the first rehearsal.
 */
import type { AlarmChange } from '../../../shared/alarm-change.js';
import type { BeginAnswer } from '../../api/deps.js';
import { changeAlarms, type ChangedText } from '../../config/alarm-changes.js';
import { parseConfig } from '../../config/parse.js';
import { formatProblem } from '../../config/problem.js';
import type { Plan } from '../../core/plan.js';
import { judgeCandidate } from '../../rehearsal/candidate.js';

/** Stands where the name of a file would in problems. */
const CANDIDATE = 'candidate';

/** The reason for the setpoint of an alarm that the file does not have yet; it never gets into force. */
const RATIONALE = 'tried in a rehearsal';

/** `running`: the plan in force. */
export function judgeText(
  text: string,
  running: Plan,
): { readonly ok: true; readonly plan: Plan } | Extract<BeginAnswer, { reason: 'invalid' | 'refused' }> {
  const parsed = parseConfig(text, CANDIDATE);
  if (!parsed.ok) return { ok: false, reason: 'invalid', problems: parsed.problems.map(formatProblem) };
  const { refusals } = judgeCandidate(running, parsed.plan);
  if (refusals.length > 0) return { ok: false, reason: 'refused', problems: refusals };
  return { ok: true, plan: parsed.plan };
}

/** The text of a file with other setpoints and delays. */
export function changeText(text: string, changes: readonly AlarmChange[], running: Plan): ChangedText {
  const isThere = (change: AlarmChange): boolean =>
    running.rateAlarms.some(({ motor, kind }) => motor === change.motor && kind === change.kind);
  return changeAlarms(
    text,
    changes.map((change) => (isThere(change) ? change : { ...change, rationale: RATIONALE })),
  );
}
