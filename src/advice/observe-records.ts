/** Observations that the records make: size, what is fitted, what work changed, what inspections saw. */
import type { ActionEvidence, FindingEvidence, MotorEvidence } from './evidence.js';
import { namePosition } from './fleet.js';
import { effectOf, writeRatio } from './judgement.js';
import type { Effect, Observation } from './observation.js';

/** Up to here discharge through the film is the rule at usual speeds. Source: `SIZE_SURVEY`. */
const SMALL_KW = 20;
/** From this shaft height on circulating current is the rule. Source: common practice (280 and 315 are both named). */
const LARGE_FRAME_MM = 280;
/** Without a shaft height: power above which machines mostly have such frames. Source: the survey's 10 to 100 kW middle. */
const LARGE_KW = 100;

const EARTHING = ['earthing-improved', 'shaft-earthing-fitted', 'shaft-earthing-serviced'] as const;
const SHAFT_EARTHING = ['shaft-earthing-fitted', 'shaft-earthing-serviced'] as const;
const SENSOR_WORK = ['sensor-moved', 'device-swapped'] as const;
const SPENT_LUBRICANT = ['darkened', 'burnt', 'hardened'];
const SOUND_LUBRICANT = ['fresh'];
const EROSION_MODES = ['electrical-erosion', 'excessive-current-erosion', 'current-leakage-erosion'];
const EROSION_SIGNS = ['craters', 'frosting', 'fluting'];

export function observeSize({ powerKw, frameMm }: MotorEvidence): Observation {
  if (powerKw === null && frameMm === null) {
    const text =
      'Neither shaft height nor rated power is configured: either would tell the usual mechanism for the size.';
    return { id: 'size', value: null, text };
  }
  const words = [
    ...(frameMm === null ? [] : [`shaft height ${frameMm} mm`]),
    ...(powerKw === null ? [] : [`${powerKw} kW`]),
  ].join(', ');
  if (frameMm !== null ? frameMm >= LARGE_FRAME_MM : powerKw! > LARGE_KW)
    return { id: 'size', value: 'large', text: `A large machine: ${words}.` };
  if (powerKw !== null ? powerKw <= SMALL_KW : frameMm! < 160)
    return { id: 'size', value: 'small', text: `A small machine: ${words}.` };
  return { id: 'size', value: 'middle', text: `A machine of middle size: ${words}.` };
}

export function observeEarthing({ actions }: MotorEvidence): Observation {
  const fitted = actions.filter(({ kind }) => (SHAFT_EARTHING as readonly string[]).includes(kind)).at(-1);
  return fitted === undefined
    ? { id: 'earthingFitted', value: 'none-on-record', text: 'No shaft earthing device is on record.' }
    : { id: 'earthingFitted', value: 'yes', text: `A shaft earthing device is on record${endOf(fitted)}.` };
}

/** Insulation as the newest bearing at each end has it. */
export function observeInsulation({ actions }: MotorEvidence): Observation {
  const ends = new Map<string, string>();
  for (const { kind, end, bearing } of actions) {
    if (kind !== 'bearing-replaced' || bearing === null) continue;
    for (const each of end === null || end === 'both' ? ['de', 'nde'] : [end]) ends.set(each, bearing);
  }
  const insulated = [...ends].filter(([, bearing]) => bearing !== 'same').map(([end]) => end);
  if (insulated.length === 0)
    return {
      id: 'insulation',
      value: 'none-on-record',
      text: 'No insulated or hybrid bearing is on record.',
    };
  const words = insulated.map((end) => `${namePosition(end)} ${ends.get(end)!}`).join(', ');
  return insulated.length === 1
    ? { id: 'insulation', value: 'one-end', text: `One end has a bearing that insulates: ${words}.` }
    : { id: 'insulation', value: 'both-ends', text: `Both ends have bearings that insulate: ${words}.` };
}

export function observeAfterEarthing(motor: MotorEvidence): Observation {
  return { id: 'afterEarthing', ...effectAfter(motor, 'earthing', (each) => isOne(EARTHING, each)) };
}

export function observeAfterInsulation(motor: MotorEvidence): Observation {
  const isInsulation = ({ kind, bearing }: ActionEvidence): boolean =>
    kind === 'bearing-replaced' && bearing !== null && bearing !== 'same';
  return { id: 'afterInsulation', ...effectAfter(motor, 'an insulated or hybrid bearing', isInsulation) };
}

export function observeAfterFilter(motor: MotorEvidence): Observation {
  const found = effectAfter(motor, 'a common-mode filter', ({ kind }) => kind === 'common-mode-filter');
  return { id: 'afterFilter', ...found };
}

export function observeAfterBonding(motor: MotorEvidence): Observation {
  const found = effectAfter(motor, 'work on cable or bonding', ({ kind }) => kind === 'cable-or-bonding');
  return { id: 'afterBonding', ...found };
}

export function observeAfterSensorWork(motor: MotorEvidence): Observation {
  const { value, text } = effectAfter(motor, 'work on the sensor', (each) => isOne(SENSOR_WORK, each));
  const word = value === null ? null : value === 'same' ? ('same' as const) : ('changed' as const);
  return { id: 'afterSensorWork', value: word, text };
}

export function observeErosion({ findings }: MotorEvidence): Observation {
  const looked = findings.filter(({ modes, signs }) => modes.length + signs.length > 0);
  if (looked.length === 0) {
    const text = 'No bearing of this motor has been looked at: an inspection would tell.';
    return { id: 'erosion', value: null, text };
  }
  const ends = [...new Set(looked.filter(showsErosion).map(({ end }) => namePosition(end)))].join(', ');
  return ends === ''
    ? { id: 'erosion', value: 'not-seen', text: 'Inspections found no sign of electrical erosion.' }
    : { id: 'erosion', value: 'seen', text: `Signs of electrical erosion were found at ${ends}.` };
}

/** The newest look at the lubricant stands for it. */
export function observeLubricant({ findings }: MotorEvidence): Observation {
  const last = findings.filter(({ lubricant }) => lubricant.length > 0).at(-1);
  if (last === undefined) {
    return { id: 'lubricant', value: null, text: 'Nobody noted the lubricant: a grease sample would tell.' };
  }
  const text = `The lubricant at ${namePosition(last.end)} was noted as ${last.lubricant.join(', ')}.`;
  const has = (words: readonly string[]): boolean => last.lubricant.some((word) => words.includes(word));
  if (has(SPENT_LUBRICANT)) return { id: 'lubricant', value: 'burnt', text };
  return { id: 'lubricant', value: has(SOUND_LUBRICANT) ? 'sound' : null, text };
}

/** Electrical erosion or one of its submodes was named, or its marks were seen. */
export function showsErosion({ modes, signs }: FindingEvidence): boolean {
  return (
    modes.some((mode) => EROSION_MODES.includes(mode)) || signs.some((sign) => EROSION_SIGNS.includes(sign))
  );
}

/** Whether the lubricant was found spent. */
export function showsSpentLubricant({ lubricant }: FindingEvidence): boolean {
  return lubricant.some((word) => SPENT_LUBRICANT.includes(word));
}

function isOne(kinds: readonly string[], { kind }: ActionEvidence): boolean {
  return kinds.includes(kind);
}

function endOf({ end }: ActionEvidence): string {
  return end === null ? '' : ` at ${end === 'both' ? 'both ends' : namePosition(end)}`;
}

/** What the newest such action that has an answer did to the counts. */
function effectAfter(
  { actions }: MotorEvidence,
  what: string,
  isMeant: (action: ActionEvidence) => boolean,
): { value: Effect | null; text: string } {
  const done = actions.filter(isMeant);
  if (done.length === 0) return { value: null, text: `No ${what.replace(/^an? /, '')} is on record.` };
  const answered = done.filter(({ effect }) => effect !== null).at(-1);
  if (answered === undefined)
    return { value: null, text: `After ${what} there is not enough exposure yet to compare.` };
  const effect = answered.effect!;
  const value = effectOf(effect);
  const word = value === null ? 'not clear' : value === 'same' ? 'the same' : value;
  return {
    value,
    text: `After ${what} the counts: ${word}, ${writeRatio(effect)} times as often as before.`,
  };
}
