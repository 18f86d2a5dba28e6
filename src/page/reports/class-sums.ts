/** Pulses and time by class over a span, from the ledger's lines and from series. Pure. */
import type { SeriesBody } from '../../../shared/charts.js';
import { LEDGER_CLASS_NAMES, type LedgerClassName } from '../../../shared/ledger-terms.js';

export interface ClassSum {
  readonly name: LedgerClassName;
  readonly pulses: number;
  readonly ms: number;
}

/** Every class, also those without anything, in the order of the classes. */
export function sumSeries(points: SeriesBody['points']): ClassSum[] {
  return LEDGER_CLASS_NAMES.map((name) => {
    let pulses = 0;
    let ms = 0;
    for (const point of points) {
      pulses += name === 'running' ? point.running_pulses : (point.excluded_pulses[name] ?? 0);
      ms += name === 'running' ? point.running_ms : (point.excluded_ms[name] ?? 0);
    }
    return { name, pulses, ms };
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
