/**
 * The rules: what each observation says about each mechanism. Data, one row each, with its source. `weight` 2 is for what
 * the mechanism itself entails, 1 for what is merely usual. An observation without a row says nothing about the mechanism.
 */
import type { MechanismId } from './mechanism.js';
import type { ObservationId, ObservationValues } from './observation.js';
import {
  BREAKDOWN_VOLTAGE,
  COMMON_PRACTICE,
  DAMAGE_PATH,
  DERIVED,
  DRIVERS,
  EROSION_MODES,
  FILM_REGIME,
  SECONDARY_STANDARD,
  SIZE_SURVEY,
} from './source.js';

export type Rule = {
  readonly [K in ObservationId]: {
    readonly mechanism: MechanismId;
    readonly on: K;
    readonly is: ObservationValues[K];
    readonly speaks: 'for' | 'against';
    readonly weight: 1 | 2;
    readonly because: string;
    readonly source: string;
  };
}[ObservationId];

type Row = readonly [
  mechanism: MechanismId,
  speaks: 'for' | 'against',
  weight: 1 | 2,
  because: string,
  source: string,
];

/** Rows that share an observation, so that the table below reads by observation. */
function when<K extends ObservationId>(on: K, is: ObservationValues[K], rows: readonly Row[]): Rule[] {
  return rows.map(
    ([mechanism, speaks, weight, because, source]) =>
      ({ mechanism, on, is, speaks, weight, because, source }) as Rule,
  );
}

const NEEDS_DRIVE = 'without its modulation the drive makes no common-mode voltage';
const DRIVEN = 'it needs the common-mode voltage of the own drive';

const FROM_COUNTS: readonly Rule[] = [
  ...when('modulation', 'follows', [
    ['film-discharge', 'for', 2, DRIVEN, DERIVED],
    ['circulating-current', 'for', 1, DRIVEN, DERIVED],
    ['rotor-to-ground', 'for', 1, DRIVEN, DERIVED],
    ['line-asymmetry', 'against', 1, 'it would be there without the inverter too', COMMON_PRACTICE],
    ['interference', 'against', 2, 'what comes from outside does not wait for this drive', DERIVED],
  ]),
  ...when('modulation', 'without', [
    ['film-discharge', 'against', 2, NEEDS_DRIVE, DERIVED],
    ['circulating-current', 'against', 2, NEEDS_DRIVE, DERIVED],
    ['rotor-to-ground', 'against', 2, NEEDS_DRIVE, DERIVED],
    ['line-asymmetry', 'against', 1, 'at standstill there is no flux to drive it', DERIVED],
    ['interference', 'for', 2, 'counts at standstill come from elsewhere', DERIVED],
    ['earthing-contact', 'against', 1, 'a contact on a shaft at rest does not spark', DERIVED],
    ['sensor-or-wiring', 'for', 1, 'a sensor that counts at standstill may count by itself', COMMON_PRACTICE],
  ]),
  ...when('bypass', 'present', [
    ['line-asymmetry', 'for', 2, 'it needs no inverter', SECONDARY_STANDARD],
    ['film-discharge', 'against', 2, NEEDS_DRIVE, DERIVED],
    ['circulating-current', 'against', 1, 'its high-frequency part needs the inverter', DERIVED],
    ['rotor-to-ground', 'against', 2, NEEDS_DRIVE, DERIVED],
  ]),
  ...when('bypass', 'absent', [
    ['line-asymmetry', 'against', 2, 'it would be there on line supply', SECONDARY_STANDARD],
    ['film-discharge', 'for', 1, DRIVEN, DERIVED],
    ['circulating-current', 'for', 1, DRIVEN, DERIVED],
    ['rotor-to-ground', 'for', 1, DRIVEN, DERIVED],
  ]),
  ...when('ends', 'alike', [
    ['circulating-current', 'for', 1, 'the loop passes through both bearings', COMMON_PRACTICE],
    ['interference', 'for', 1, 'what comes from outside reaches both sensors', DERIVED],
    ['sensor-or-wiring', 'against', 1, 'two devices seldom fail alike', DERIVED],
  ]),
  ...when('ends', 'one-end', [
    ['film-discharge', 'for', 1, 'both ends share one charge, and the weaker film empties it', DERIVED],
    ['circulating-current', 'against', 1, 'the loop passes through both bearings', COMMON_PRACTICE],
    ['sensor-or-wiring', 'for', 1, 'one device alone tells of it', COMMON_PRACTICE],
    ['earthing-contact', 'for', 1, 'a contact sits at one end', DERIVED],
  ]),
  ...when('switching', 'rises', [
    ['film-discharge', 'for', 2, 'more common-mode steps, more charges of the rotor', DRIVERS],
    ['circulating-current', 'for', 1, 'each step rings', DERIVED],
    ['rotor-to-ground', 'for', 1, 'each step drives it', DERIVED],
    ['interference', 'against', 1, 'what comes from outside does not know this carrier', DERIVED],
  ]),
  ...when('switching', 'level', [
    ['film-discharge', 'against', 1, 'more steps should charge the rotor more often', DRIVERS],
  ]),
  ...when('speed', 'rises', [
    ['film-discharge', 'for', 1, 'a fuller film insulates and breaks down more often', FILM_REGIME],
    ['earthing-contact', 'for', 1, 'a faster shaft wears and lifts the contact', COMMON_PRACTICE],
    ['interference', 'against', 1, 'what comes from outside does not know this speed', DERIVED],
  ]),
  ...when('speed', 'falls', [
    [
      'film-discharge',
      'for',
      1,
      'breakdown voltage moves with speed, in either direction',
      BREAKDOWN_VOLTAGE,
    ],
    ['interference', 'against', 1, 'what comes from outside does not know this speed', DERIVED],
  ]),
  ...when('speed', 'level', [
    ['film-discharge', 'against', 1, 'the film follows speed', FILM_REGIME],
    ['interference', 'for', 1, 'what comes from outside does not know this speed', DERIVED],
  ]),
  ...when('temperature', 'rises', [
    ['film-discharge', 'for', 1, 'a warmer film is thinner: rate follows bearing temperature', DRIVERS],
  ]),
  ...when('temperature', 'falls', [
    ['film-discharge', 'for', 1, 'rate follows bearing temperature, in either direction', DRIVERS],
  ]),
  ...when('dcLink', 'rises', [
    ['film-discharge', 'for', 1, 'a higher common-mode voltage charges the rotor higher', DERIVED],
  ]),
  ...when('load', 'rises', [
    ['line-asymmetry', 'for', 1, 'shaft voltage from asymmetry grows with current', DERIVED],
  ]),
  ...when('neighbour', 'follows', [
    ['interference', 'for', 2, 'background that follows a neighbour is cross-talk', DERIVED],
  ]),
  ...when('neighbour', 'none', [['interference', 'against', 1, 'no neighbour is heard', DERIVED]]),
  ...when('commonBursts', 'many', [
    ['interference', 'for', 1, 'bursts on several motors at once come from outside', DERIVED],
  ]),
  ...when('commonBursts', 'few', [
    ['interference', 'against', 1, 'a site-wide source would be heard on several motors', DERIVED],
  ]),
  ...when('sisters', 'odd', [
    ['rotor-to-ground', 'for', 1, 'bonding, cable and coupling differ from motor to motor', DERIVED],
    ['sensor-or-wiring', 'for', 1, 'one device alone tells of it', DERIVED],
  ]),
  ...when('sisters', 'alike', [
    ['sensor-or-wiring', 'against', 1, 'a whole group of devices seldom fails alike', DERIVED],
    ['rotor-to-ground', 'against', 1, 'bonding faults seldom come alike on a whole group', DERIVED],
  ]),
  ...when('device', 'faults', [
    ['sensor-or-wiring', 'for', 2, 'the gateway noted what a sound device does not do', COMMON_PRACTICE],
  ]),
  ...when('device', 'clean', [
    ['sensor-or-wiring', 'against', 1, 'counts, clocks and messages are in order', COMMON_PRACTICE],
  ]),
];

const FROM_RECORDS: readonly Rule[] = [
  ...when('size', 'small', [
    ['film-discharge', 'for', 2, 'the usual mechanism up to about 20 kW', SIZE_SURVEY],
    ['circulating-current', 'against', 1, 'it grows with the size of the machine', SIZE_SURVEY],
  ]),
  ...when('size', 'large', [
    ['circulating-current', 'for', 2, 'the usual mechanism of large machines', SIZE_SURVEY],
  ]),
  ...when('size', 'middle', [
    [
      'film-discharge',
      'for',
      1,
      'not excluded by size; current density is lower at 10 to 100 kW',
      SIZE_SURVEY,
    ],
    [
      'circulating-current',
      'for',
      1,
      'not excluded by size; current density is lower at 10 to 100 kW',
      SIZE_SURVEY,
    ],
  ]),
  ...when('earthingFitted', 'none-on-record', [
    ['earthing-contact', 'against', 2, 'without a contact nothing of it can spark', DERIVED],
  ]),
  ...when('earthingFitted', 'yes', [
    ['earthing-contact', 'for', 1, 'a contact is there and wears', COMMON_PRACTICE],
  ]),
  ...when('insulation', 'one-end', [
    ['circulating-current', 'against', 2, 'one insulated bearing opens the loop', COMMON_PRACTICE],
  ]),
  ...when('insulation', 'both-ends', [
    ['circulating-current', 'against', 2, 'insulated bearings open the loop', COMMON_PRACTICE],
    ['film-discharge', 'against', 1, 'the voltage then falls across the insulation too', COMMON_PRACTICE],
    ['rotor-to-ground', 'against', 1, 'the path then leads round the bearings', COMMON_PRACTICE],
  ]),
  ...when('afterEarthing', 'fell', [
    ['film-discharge', 'for', 2, 'earthing takes the charge off the rotor', COMMON_PRACTICE],
  ]),
  ...when('afterEarthing', 'same', [
    [
      'film-discharge',
      'against',
      1,
      'a good earthing contact should take the charge off the rotor',
      COMMON_PRACTICE,
    ],
    ['circulating-current', 'for', 1, 'earthing does not open the loop', COMMON_PRACTICE],
  ]),
  ...when('afterEarthing', 'rose', [
    ['earthing-contact', 'for', 2, 'the contact itself may spark and be counted', DERIVED],
    ['circulating-current', 'for', 1, 'earthing does not open the loop and may lower its impedance', DERIVED],
  ]),
  ...when('afterInsulation', 'fell', [
    ['circulating-current', 'for', 2, 'insulation opens the loop', COMMON_PRACTICE],
  ]),
  ...when('afterInsulation', 'same', [
    ['circulating-current', 'against', 1, 'insulation should open the loop', COMMON_PRACTICE],
    ['film-discharge', 'for', 1, 'insulating one end leaves the other exposed', COMMON_PRACTICE],
  ]),
  ...when('afterFilter', 'fell', [
    ['film-discharge', 'for', 1, 'a filter lowers the common-mode voltage', COMMON_PRACTICE],
    ['circulating-current', 'for', 1, 'a choke lowers the common-mode current', COMMON_PRACTICE],
    ['rotor-to-ground', 'for', 1, 'a filter lowers the common-mode current', COMMON_PRACTICE],
    ['interference', 'against', 1, 'a filter at this drive quiets nobody else', DERIVED],
  ]),
  ...when('afterBonding', 'fell', [
    ['rotor-to-ground', 'for', 2, 'the current found a better way back', COMMON_PRACTICE],
  ]),
  ...when('afterBonding', 'same', [
    ['rotor-to-ground', 'against', 1, 'better bonding should take the current', COMMON_PRACTICE],
  ]),
  ...when('afterSensorWork', 'changed', [
    ['sensor-or-wiring', 'for', 1, 'counts compare only for the same device, place and threshold', DERIVED],
  ]),
  ...when('afterSensorWork', 'same', [
    ['sensor-or-wiring', 'against', 2, 'another device or place counts the same', COMMON_PRACTICE],
  ]),
  ...when('erosion', 'seen', [
    ['film-discharge', 'for', 1, 'current passed through the bearing', EROSION_MODES],
    ['circulating-current', 'for', 1, 'current passed through the bearing', EROSION_MODES],
    ['rotor-to-ground', 'for', 1, 'current passed through the bearing', EROSION_MODES],
    ['interference', 'against', 1, 'interference leaves no marks on a raceway', DERIVED],
    ['sensor-or-wiring', 'against', 1, 'a faulty sensor leaves no marks on a raceway', DERIVED],
  ]),
  ...when('erosion', 'not-seen', [
    ['interference', 'for', 1, 'counts without marks may come from elsewhere', DERIVED],
    ['sensor-or-wiring', 'for', 1, 'counts without marks may come from the sensor', DERIVED],
  ]),
  ...when('lubricant', 'burnt', [
    ['film-discharge', 'for', 1, 'discharges burn grease; heat and age do so too', DAMAGE_PATH],
    ['circulating-current', 'for', 1, 'current burns grease; heat and age do so too', DAMAGE_PATH],
  ]),
];

export const RULES: readonly Rule[] = [...FROM_COUNTS, ...FROM_RECORDS];
