/**
 * Words for what an inspection of a bearing found: how it failed, what is to be seen on its raceways, and how its lubricant
 * was. A finding is what a person saw; the gateway concludes nothing from it.
 * Source: modes after the vocabulary of ISO 15243:2017, whose clause 5.4 "electrical erosion" was read in its table of
 * contents; the other main modes and all sub-modes are written from memory and unverified. The edition of 2004 had other
 * words for electrical erosion ("excessive voltage", "current leakage"). Signs and lubricant: common words of the trade.
 */

export interface ModeMeaning {
  readonly title: string;
  /** the main mode it belongs to; null: it is one, for a person who cannot or need not say more */
  readonly within: string | null;
}

export const FAILURE_MODES = {
  'rolling-contact-fatigue': { title: 'rolling contact fatigue', within: null },
  'subsurface-initiated-fatigue': {
    title: 'subsurface-initiated fatigue',
    within: 'rolling-contact-fatigue',
  },
  'surface-initiated-fatigue': { title: 'surface-initiated fatigue', within: 'rolling-contact-fatigue' },
  wear: { title: 'wear', within: null },
  'abrasive-wear': { title: 'abrasive wear', within: 'wear' },
  'adhesive-wear': { title: 'adhesive wear', within: 'wear' },
  corrosion: { title: 'corrosion', within: null },
  'moisture-corrosion': { title: 'moisture corrosion', within: 'corrosion' },
  'fretting-corrosion': { title: 'fretting corrosion', within: 'corrosion' },
  'false-brinelling': { title: 'false brinelling', within: 'corrosion' },
  'electrical-erosion': { title: 'electrical erosion', within: null },
  'excessive-current-erosion': { title: 'excessive current erosion', within: 'electrical-erosion' },
  'current-leakage-erosion': { title: 'current leakage erosion', within: 'electrical-erosion' },
  'plastic-deformation': { title: 'plastic deformation', within: null },
  'overload-deformation': { title: 'overload deformation', within: 'plastic-deformation' },
  'indentation-from-particles': { title: 'indentation from particles', within: 'plastic-deformation' },
  'cracking-and-fracture': { title: 'cracking and fracture', within: null },
  'forced-fracture': { title: 'forced fracture', within: 'cracking-and-fracture' },
  'fatigue-fracture': { title: 'fatigue fracture', within: 'cracking-and-fracture' },
  'thermal-cracking': { title: 'thermal cracking', within: 'cracking-and-fracture' },
  none: { title: 'no failure mode', within: null },
} as const satisfies Readonly<Record<string, ModeMeaning>>;
export type FailureMode = keyof typeof FAILURE_MODES;
export const FAILURE_MODE_NAMES = Object.keys(FAILURE_MODES) as [FailureMode, ...FailureMode[]];

/** What is to be seen with the eye or a microscope, on raceways and rolling elements. `none`: looked for, not found. */
export const VISIBLE_SIGNS = [
  'craters',
  'frosting',
  'fluting',
  'spalling',
  'discolouration',
  'indentations',
  'rust',
  'none',
] as const;
export type VisibleSign = (typeof VISIBLE_SIGNS)[number];

/** How the lubricant was. `fresh` stands alone. */
export const LUBRICANT_CONDITIONS = [
  'fresh',
  'darkened',
  'burnt',
  'hardened',
  'contaminated',
  'watery',
  'separated',
  'dry',
] as const;
export type LubricantCondition = (typeof LUBRICANT_CONDITIONS)[number];

/** What was found, in plain words, for the journal; what was not looked at is left out. */
export function describeFinding(finding: {
  readonly modes: readonly FailureMode[];
  readonly signs: readonly VisibleSign[];
  readonly lubricant: readonly LubricantCondition[];
  readonly note: string;
}): string {
  const parts = [
    finding.modes.map((mode) => FAILURE_MODES[mode].title).join(', '),
    finding.signs.length === 0 ? '' : `visible signs: ${finding.signs.join(', ')}`,
    finding.lubricant.length === 0 ? '' : `lubricant ${finding.lubricant.join(', ')}`,
    finding.note,
  ];
  return parts.filter((part) => part !== '').join('; ');
}
