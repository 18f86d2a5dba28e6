/**
 * What is usually done about each mechanism, in the usual order, with the trap of each step. Rows of the order: common
 * practice unless said otherwise. `kinds`: the maintenance actions that record the step, to see whether it was taken.
 */
import type { MechanismId, Sourced } from './mechanism.js';
import { COMMON_PRACTICE, DERIVED, SECONDARY_STANDARD } from './source.js';

export interface Remedy extends Sourced {
  /** what it does not cure, or what goes wrong with it */
  readonly trap: Sourced;
  readonly kinds: readonly string[];
  /** of a bearing that is replaced: with what; null: not about bearings */
  readonly bearing: 'insulated' | 'hybrid' | null;
}

function step(
  text: string,
  trap: string,
  kinds: readonly string[] = [],
  more: { source?: string; trapSource?: string; bearing?: 'insulated' | 'hybrid' } = {},
): Remedy {
  return {
    text,
    source: more.source ?? COMMON_PRACTICE,
    trap: { text: trap, source: more.trapSource ?? DERIVED },
    kinds,
    bearing: more.bearing ?? null,
  };
}

const CONTACT_TRAP =
  'The earthing contact wears, may itself spark and be counted, and is forbidden ground in explosive atmospheres ' +
  'without the consent of the holder of the certificate.';
const MOVED_TRAP =
  'Insulating the motor may move the current to the driven machine: watch the bearings of the load as well.';
const FILTER_TRAP =
  'A filter that does not fit drive, cable length and switching frequency saturates or overheats: ask the manufacturers.';
const COMPARABILITY_TRAP = 'Counts before and after do not compare: the baseline starts anew.';

export const REMEDIES: Readonly<Record<MechanismId, readonly Remedy[]>> = {
  'film-discharge': [
    step('Earth the shaft with a device made for it, at the end that discharges.', CONTACT_TRAP, [
      'shaft-earthing-fitted',
      'shaft-earthing-serviced',
    ]),
    step('Fit a common-mode filter at the drive.', FILTER_TRAP, ['common-mode-filter']),
    step(
      'Fit hybrid bearings at both ends.',
      `Insulating one end does not stop discharges at the other. ${MOVED_TRAP}`,
      ['bearing-replaced'],
      { bearing: 'hybrid', trapSource: COMMON_PRACTICE },
    ),
    step(
      'Lower the switching frequency, if every manufacturer concerned agrees.',
      'Fewer discharges may each be stronger, and losses and noise in the motor change: the count alone does not tell.',
      ['drive-settings-changed'],
      { source: SECONDARY_STANDARD },
    ),
  ],
  'circulating-current': [
    step(
      'Fit an insulated bearing at the non-drive end.',
      'It opens this loop only: discharge through the film at the drive end goes on.',
      ['bearing-replaced'],
      { source: SECONDARY_STANDARD, trapSource: COMMON_PRACTICE, bearing: 'insulated' },
    ),
    step('Fit a common-mode choke.', FILTER_TRAP, ['common-mode-filter']),
    step('Fit a dv/dt filter.', 'It slows the steps but leaves the common-mode voltage itself.', [
      'common-mode-filter',
    ]),
    step(
      'Earth the shaft only beside the bearing that is not insulated.',
      'Earthing beside the insulated bearing closes the loop round it again.',
      ['shaft-earthing-fitted'],
      { trapSource: COMMON_PRACTICE },
    ),
  ],
  'rotor-to-ground': [
    step(
      'Bond motor, driven machine and drive for high frequency, with short flat straps.',
      'Round earthing wire conducts at 50 Hz and hardly at all at high frequency. Never remove the protective earth for it.',
      ['cable-or-bonding', 'earthing-improved'],
      { source: SECONDARY_STANDARD, trapSource: COMMON_PRACTICE },
    ),
    step(
      'Use symmetrical shielded motor cable, its shield clamped all round at both ends.',
      'A shield on a pigtail is no shield at high frequency.',
      ['cable-or-bonding'],
      { trapSource: COMMON_PRACTICE },
    ),
    step(
      'Fit an insulated coupling.',
      'The shaft then floats and may discharge through the motor bearings instead: watch both ends.',
    ),
    step('Insulate the bearings of the motor.', MOVED_TRAP, ['bearing-replaced'], { bearing: 'insulated' }),
  ],
  'line-asymmetry': [
    step(
      'Have supply voltages, air gap and winding checked, then insulate one bearing.',
      'Insulating one end stops the loop, not a cause inside the machine.',
      ['bearing-replaced'],
      { bearing: 'insulated' },
    ),
  ],
  interference: [
    step(
      'Name the neighbour in `coupledTo`, or put both motors into one zone, so that its switching is set aside.',
      'Setting aside too much hides real discharges: look at what share of the time survives.',
      [],
      { source: DERIVED },
    ),
    step(
      'Move or turn the sensor, route its cable away from motor cables, clamp its shield.',
      COMPARABILITY_TRAP,
      ['sensor-moved', 'cable-or-bonding'],
    ),
    step(
      'Quiet the source: suppressors at contactors, brushes in order, doors of cabinets closed.',
      'A source that only sometimes works seems cured until it works again.',
    ),
  ],
  'earthing-contact': [
    step(
      'Have the earthing device inspected, cleaned or renewed by those who may.',
      'A fresh contact beds in and may spark more at first: compare after some days.',
      ['shaft-earthing-serviced'],
    ),
    step(
      'Leave the sensor where it is and compare the other end.',
      'Fewer counts with the contact lifted do not mean less current through the bearing.',
    ),
  ],
  'sensor-or-wiring': [
    step(
      'Run a function check, then count beside a portable counter for the same time.',
      'A check proves hearing, not threshold.',
    ),
    step('Check mounting, supply voltage, connector and shield.', COMPARABILITY_TRAP, ['sensor-moved']),
    step('Swap the device with a known good one.', COMPARABILITY_TRAP, ['device-swapped']),
  ],
};
