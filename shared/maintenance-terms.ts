/**
 * Words for what people do to a motor, its drive and its sensors, and what each of them means for the counts.
 * Source: the trade's words; whether a kind breaks comparability is the design's, section 6: sensor moved, device swapped,
 * bearing, grease, filter, cable and drive settings do. Earthing is not in that list: the counts before and after it are
 * counted alike, so they stay comparable and the difference is the remedy's.
 */

/** What a replaced bearing was replaced by: one of the same kind, an insulated one, one with ceramic balls or rollers. */
export const BEARING_KINDS = ['same', 'insulated', 'hybrid'] as const;
export type BearingKind = (typeof BEARING_KINDS)[number];

/** The ends of a motor that have a bearing. A place of another name is that of a sensor of the motor. */
export const BEARING_ENDS = ['de', 'nde'] as const;

/** Both bearings of a motor, as an end. */
export const BOTH_ENDS = 'both';

/**
 * Whose counts before are no yardstick for those after. `motor`: all sensors of the motor, whichever end was worked on,
 * because both bearings discharge the same rotor; `place`: only the sensor there (all of the motor without a place).
 */
export type Breaks = 'nothing' | 'place' | 'motor';

export interface ActionMeaning {
  readonly title: string;
  readonly breaks: Breaks;
  /** it is meant to change the discharges, so that before and after are worth comparing */
  readonly isRemedy: boolean;
}

export const ACTIONS = {
  'earthing-improved': { title: 'earthing improved', breaks: 'nothing', isRemedy: true },
  'shaft-earthing-fitted': { title: 'shaft earthing fitted', breaks: 'nothing', isRemedy: true },
  'shaft-earthing-serviced': { title: 'shaft earthing serviced', breaks: 'nothing', isRemedy: true },
  'common-mode-filter': { title: 'common-mode filter fitted', breaks: 'motor', isRemedy: true },
  'cable-or-bonding': { title: 'cable or bonding changed', breaks: 'motor', isRemedy: true },
  'bearing-replaced': { title: 'bearing replaced', breaks: 'motor', isRemedy: true },
  regreased: { title: 'regreased', breaks: 'motor', isRemedy: true },
  'sensor-moved': { title: 'sensor moved', breaks: 'place', isRemedy: false },
  'device-swapped': { title: 'device swapped', breaks: 'place', isRemedy: false },
  'drive-settings-changed': { title: 'drive settings changed', breaks: 'motor', isRemedy: true },
  other: { title: 'other work', breaks: 'nothing', isRemedy: false },
} as const satisfies Readonly<Record<string, ActionMeaning>>;
export type ActionKind = keyof typeof ACTIONS;
export const ACTION_KINDS = Object.keys(ACTIONS) as [ActionKind, ...ActionKind[]];

/** Work on one bearing or both: it has to say on which. */
export const BEARING_WORK: readonly ActionKind[] = ['bearing-replaced'];

/** Whether an action at `end` (null: the whole motor) touches what is measured at `position`. */
export function isAtPlace(end: string | null, position: string): boolean {
  if (end === null || end === position) return true;
  return end === BOTH_ENDS && (BEARING_ENDS as readonly string[]).includes(position);
}

/** Whether the counts at `position` before the action are no yardstick any more for those after it. */
export function breaksComparability(kind: ActionKind, end: string | null, position: string): boolean {
  const { breaks } = ACTIONS[kind];
  return breaks === 'motor' || (breaks === 'place' && isAtPlace(end, position));
}

const END_WORDS: Readonly<Record<string, string>> = {
  de: 'drive end',
  nde: 'non-drive end',
  both: 'both ends',
};

/** `de` -> `drive end`; a place of another name as it is. */
export function describeEnd(end: string): string {
  return END_WORDS[end] ?? end;
}

/** In plain words, for the journal: `bearing replaced by an insulated one, drive end: grease was dry`. */
export function describeAction(action: {
  readonly action: ActionKind;
  readonly end: string | null;
  readonly bearing: BearingKind | null;
  readonly note: string;
}): string {
  const by = { same: 'one of the same kind', insulated: 'an insulated one', hybrid: 'a hybrid one' };
  const what = `${ACTIONS[action.action].title}${action.bearing === null ? '' : ` by ${by[action.bearing]}`}`;
  const where = action.end === null ? '' : `, ${describeEnd(action.end)}`;
  return `${what}${where}${action.note === '' ? '' : `: ${action.note}`}`;
}
