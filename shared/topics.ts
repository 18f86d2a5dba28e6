/**
 * Every topic of the contract, built and taken apart in one place.
 * `<site>/in/…` comes from the field, `<site>/out/…` from the gateway and from nobody else.
 */
import { faultOfPlaceName, isName, NAME_RULE } from './names.js';

/** Lengths of a rollup, as they stand in its topic. */
export const PERIODS = ['10s', '1m', '10m', '1h'] as const;
export type PeriodName = (typeof PERIODS)[number];

/** A topic of the field, taken apart. */
export type FieldTopic =
  | { readonly kind: 'reading'; readonly motor: string; readonly position: string }
  | { readonly kind: 'sensor-presence'; readonly motor: string; readonly position: string }
  | { readonly kind: 'drive-state'; readonly motor: string }
  | { readonly kind: 'drive-presence'; readonly motor: string };

/** A topic of the gateway, taken apart. */
export type OutTopic =
  | { readonly kind: 'out'; readonly message: 'gateway-presence' }
  | { readonly kind: 'out'; readonly message: 'journal' }
  | { readonly kind: 'out'; readonly message: 'rate'; readonly motor: string; readonly position: string }
  | {
      readonly kind: 'out';
      readonly message: 'rollup';
      readonly motor: string;
      readonly position: string;
      readonly period: PeriodName;
    }
  | { readonly kind: 'out'; readonly message: 'alarm'; readonly motor: string; readonly alarm: string };

/** `reason` says which level is wrong, what was expected and what was found. */
export interface InvalidTopic {
  readonly kind: 'invalid';
  readonly reason: string;
}

export type ParsedTopic = FieldTopic | OutTopic | InvalidTopic;

export function readingTopic(site: string, motor: string, position: string): string {
  return `${site}/in/${motor}/${position}/reading`;
}

export function sensorPresenceTopic(site: string, motor: string, position: string): string {
  return `${site}/in/${motor}/${position}/presence`;
}

export function driveStateTopic(site: string, motor: string): string {
  return `${site}/in/${motor}/drive/state`;
}

export function drivePresenceTopic(site: string, motor: string): string {
  return `${site}/in/${motor}/drive/presence`;
}

export function gatewayPresenceTopic(site: string): string {
  return `${site}/out/gateway/presence`;
}

export function rateTopic(site: string, motor: string, position: string): string {
  return `${site}/out/${motor}/${position}/rate`;
}

export function rollupTopic(site: string, motor: string, position: string, period: PeriodName): string {
  return `${site}/out/${motor}/${position}/rollup/${period}`;
}

/** `motor` is `gateway` for an alarm of the gateway itself. */
export function alarmTopic(site: string, motor: string, alarm: string): string {
  return `${site}/out/${motor}/alarm/${alarm}`;
}

export function journalTopic(site: string): string {
  return `${site}/out/journal`;
}

/** The prefix under which a sensor's device may publish, with its closing slash. */
export function sensorPrefix(site: string, motor: string, position: string): string {
  return `${site}/in/${motor}/${position}/`;
}

/** The prefix under which a drive's reporter may publish, with its closing slash. */
export function drivePrefix(site: string, motor: string): string {
  return `${site}/in/${motor}/drive/`;
}

/** Takes a topic apart. Whether motor and position are configured is not asked here. */
export function parseTopic(topic: string, site: string): ParsedTopic {
  const levels = topic.split('/');
  if (levels[0] !== site) return invalid(topic, `first level: expected ${site}`);
  if (levels[1] === 'in') return parseIn(topic, levels);
  if (levels[1] === 'out') return parseOut(topic, levels);
  return invalid(topic, 'second level: expected in or out');
}

function parseIn(topic: string, levels: readonly string[]): ParsedTopic {
  const [, , motor = '', position = '', last = ''] = levels;
  if (levels.length !== 5) {
    return invalid(topic, 'expected five levels, <site>/in/<motor>/<position or drive>/<message>');
  }
  const motorFault = faultOfPlaceName('motor', motor);
  if (motorFault !== null) return { kind: 'invalid', reason: motorFault };
  if (position === 'drive') {
    if (last === 'state') return { kind: 'drive-state', motor };
    if (last === 'presence') return { kind: 'drive-presence', motor };
    return invalid(topic, 'last level: expected state or presence under drive');
  }
  const positionFault = faultOfPlaceName('position', position);
  if (positionFault !== null) return { kind: 'invalid', reason: positionFault };
  if (last === 'reading') return { kind: 'reading', motor, position };
  if (last === 'presence') return { kind: 'sensor-presence', motor, position };
  return invalid(topic, 'last level: expected reading or presence under a position');
}

function parseOut(topic: string, levels: readonly string[]): ParsedTopic {
  const [, , motor = '', position = '', third = '', fourth = ''] = levels;
  if (motor === 'journal' && levels.length === 3) return { kind: 'out', message: 'journal' };
  if (motor === 'gateway' && position === 'presence' && levels.length === 4) {
    return { kind: 'out', message: 'gateway-presence' };
  }
  const motorFault = faultOfPlaceName('motor', motor);
  if (motorFault !== null && !(motor === 'gateway' && position === 'alarm')) {
    return { kind: 'invalid', reason: motorFault };
  }
  if (position === 'alarm') {
    if (levels.length !== 5) return invalid(topic, 'expected <site>/out/<motor>/alarm/<alarm>');
    if (!isName(third)) return invalid(topic, `alarm: expected a name of ${NAME_RULE}`);
    return { kind: 'out', message: 'alarm', motor, alarm: third };
  }
  const positionFault = faultOfPlaceName('position', position);
  if (positionFault !== null) return { kind: 'invalid', reason: positionFault };
  if (third === 'rate' && levels.length === 5) return { kind: 'out', message: 'rate', motor, position };
  if (third === 'rollup' && levels.length === 6) {
    const period = PERIODS.find((known) => known === fourth);
    if (period === undefined) return invalid(topic, `period: expected one of ${PERIODS.join(', ')}`);
    return { kind: 'out', message: 'rollup', motor, position, period };
  }
  return invalid(topic, 'expected rate or rollup/<period> under a position');
}

function invalid(topic: string, expected: string): InvalidTopic {
  return { kind: 'invalid', reason: `${expected}, found ${JSON.stringify(topic.slice(0, 200))}` };
}
