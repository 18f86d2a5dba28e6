/**
 * Which action and which finding belongs to which bearing of an end: lives from one replacement to the next. Withdrawn
 * entries count for nothing.
 */
import { isAtPlace } from '../../shared/maintenance-terms.js';
import type { Finding, MaintenanceAction } from '../core/maintenance-rows.js';

export interface Life {
  /** null: it was in when the data began */
  readonly replacement: MaintenanceAction | null;
  /** null: it is in */
  readonly removedAt: number | null;
  /** of the motor in that time, the replacement first */
  readonly actions: readonly MaintenanceAction[];
  /** of this bearing */
  readonly findings: readonly Finding[];
}

/** A bearing is often looked at, and its finding entered, on the day before its successor is fitted. Our choice. */
const SAME_JOB_MS = 86_400_000;

/** `actions` and `findings` of one motor in order of time; newest life first. */
export function splitLives(
  position: string,
  actions: readonly MaintenanceAction[],
  findings: readonly Finding[],
): Life[] {
  const standing = actions.filter(({ withdrawn }) => withdrawn === null);
  const replacements = standing.filter(
    ({ action, end }) => action === 'bearing-replaced' && end !== null && isAtPlace(end, position),
  );
  /** place of the life that holds a time; the first begins before all time */
  const lifeAt = (at: number): number => replacements.filter((each) => each.at <= at).length;
  const lives = [null, ...replacements].map((replacement, i) => ({
    replacement,
    removedAt: replacements[i]?.at ?? null,
    actions: standing.filter(({ at }) => lifeAt(at) === i),
    findings: findings.filter((finding) => {
      if (finding.withdrawn !== null || finding.end !== position) return false;
      const then = lifeAt(finding.at + (finding.removed ? SAME_JOB_MS : 0));
      return (finding.removed ? Math.max(0, then - 1) : then) === i;
    }),
  }));
  for (const life of lives)
    life.actions.sort((a, b) => Number(b === life.replacement) - Number(a === life.replacement));
  return lives.reverse();
}
