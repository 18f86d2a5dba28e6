/** What people do to alarms, as facts, for tests of the core. */
import type { AlarmAct, OperateFact } from '../../src/core/facts.js';

export function operate(
  alarm: string,
  act: AlarmAct,
  receivedAt: number,
  by: { who?: string; note?: string } = {},
): OperateFact {
  return {
    kind: 'operate',
    alarm,
    act,
    who: by.who ?? 'M. Reed',
    note: by.note ?? 'seen',
    says: '',
    receivedAt,
  };
}
