/**
 * The cautions that go with every piece of advice, always all of them: whoever acts on a hypothesis opens a terminal box.
 * No waiting time is printed: published labels differ by a factor of more than four, so only the label on the drive counts.
 */
import { COMMON_PRACTICE, DERIVED } from './source.js';

export interface Caution {
  readonly id: string;
  readonly text: string;
  readonly source: string;
}

export const CAUTIONS: readonly Caution[] = [
  {
    id: 'licensed-persons',
    text:
      'Local law, local codes and the permit of the site come first. Leave this work to licensed or otherwise ' +
      'authorised persons; where these lines and the local rules differ, the local rules stand.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'rotating-shaft',
    text: 'The shaft turns: nothing loose, no probe and no hand near it while it can move.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'live-terminals',
    text: 'Terminals of motor, drive, filter and cable are live while the supply is on.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'generating-motor',
    text:
      'A motor that is turned by its load, wind or water generates: permanent-magnet motors always, others when they ' +
      'are still magnetised. Block the shaft before touching a terminal.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'hot-surfaces',
    text: 'Frames, bearing housings, braking resistors and filters may be hot enough to burn.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'automatic-restart',
    text: 'The drive may start by itself, after a fault or by a command from afar.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'lock-out',
    text: 'Lock out every supply, tag it, and prove dead at the place of work with a tester proved before and after.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'dc-link',
    text:
      'The DC link stays charged after switching off. Wait the time on the label of this very drive, then measure: ' +
      'only the measurement says that it is discharged.',
    source: 'published drive labels, which differ widely; secondary texts',
  },
  {
    id: 'protective-earth',
    text: 'Never disconnect a protective earth, not for a test either.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'explosive-atmosphere',
    text:
      'Earthing contacts on a shaft spark. In explosive atmospheres fit none, and change nothing, without the consent ' +
      'of the holder of the certificate.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'switching-frequency',
    text:
      'Ask the manufacturers of drive, motor and filter before changing the switching frequency: losses, noise, filter ' +
      'and permitted cable length hang on it.',
    source: COMMON_PRACTICE,
  },
  {
    id: 'count-is-no-severity',
    text:
      'A count is not a severity. No published limit says how many discharges are safe, and no counts do not prove that ' +
      'no current flows through the bearing.',
    source: DERIVED,
  },
];

/** What every list of hypotheses says of itself. */
export const STANDING =
  'These are hypotheses from counts and records, in order of what speaks for them. None of this is a diagnosis: ' +
  'confirm before acting, by the measurements and inspections named, made by competent persons.';
