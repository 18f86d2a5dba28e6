/** Pulses and time by class over the whole hours of a span. Pure. */
import type { SeriesBody } from '../../../shared/charts.js';
import { LEDGER_CLASS_NAMES, type LedgerClassName } from '../../../shared/ledger-terms.js';

export interface ClassSum {
  readonly name: LedgerClassName;
  readonly pulses: number;
  readonly ms: number;
}

/** Every class, also those without anything, in the order of the classes. `hours` null: nothing is known. */
export function listClasses(hours: SeriesBody['hours']): ClassSum[] {
  return LEDGER_CLASS_NAMES.map((name) => {
    if (hours === null) return { name, pulses: 0, ms: 0 };
    if (name === 'running') return { name, pulses: hours.running_pulses, ms: hours.running_ms };
    return { name, pulses: hours.excluded_pulses[name] ?? 0, ms: hours.excluded_ms[name] ?? 0 };
  });
}

export const CLASS_WORDS: Readonly<Record<LedgerClassName, string>> = {
  running: 'running: what the rate is made of',
  transient: 'transient: starts and stops with their guard time',
  common: 'common: interference on several motors at once',
  background: 'background: without own modulation',
  check: 'check: a function check',
  unattributed: 'unattributed: longer than the gate can judge, or run state not known',
  rejected: 'rejected: counts that cannot be true',
};
