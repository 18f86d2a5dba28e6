/** What can raise the counts of a motor, in the trade's words, and what would confirm or refute each. Data only. */
import {
  CIRCULATING_RATIO,
  COMMON_PRACTICE,
  DAMAGE_PATH,
  DERIVED,
  SECONDARY_STANDARD,
  TAXONOMY,
} from './source.js';

export type MechanismId =
  | 'film-discharge'
  | 'circulating-current'
  | 'rotor-to-ground'
  | 'line-asymmetry'
  | 'interference'
  | 'earthing-contact'
  | 'sensor-or-wiring';

/** A statement with where it comes from. */
export interface Sourced {
  readonly text: string;
  readonly source: string;
}

export interface Mechanism {
  readonly id: MechanismId;
  readonly name: string;
  /** what happens, in one sentence */
  readonly about: Sourced;
  readonly confirm: readonly Sourced[];
  readonly refute: readonly Sourced[];
}

/** In the order that breaks ties: as often as the trade meets them on drive-fed motors, doubts about the instrument last. */
export const MECHANISMS: readonly Mechanism[] = [
  {
    id: 'film-discharge',
    name: 'discharge through the film (EDM)',
    about: {
      text: 'The common-mode voltage charges the rotor until the film of grease in a bearing breaks down.',
      source: TAXONOMY,
    },
    confirm: [
      {
        text: 'Shaft voltage against the frame by oscilloscope: it rises with the common-mode voltage and collapses at each discharge.',
        source: COMMON_PRACTICE,
      },
      {
        text: 'Craters or frosting on the raceway, darkened grease, at the next opening.',
        source: DAMAGE_PATH,
      },
    ],
    refute: [
      { text: 'Shaft voltage stays near zero while counts go on.', source: DERIVED },
      { text: 'Counts go on while the drive does not modulate.', source: DERIVED },
    ],
  },
  {
    id: 'circulating-current',
    name: 'circulating current',
    about: {
      text: 'High-frequency ring flux drives a current round the loop of shaft, both bearings and frame.',
      source: TAXONOMY,
    },
    confirm: [
      {
        text: 'Voltage between the two shaft ends, and shaft current with a high-frequency coil round the shaft, by oscilloscope.',
        source: COMMON_PRACTICE,
      },
      { text: 'Signs of current at both bearings when they are opened.', source: COMMON_PRACTICE },
    ],
    refute: [
      {
        text: 'Counts at the other bearing stay although one bearing is insulated and its insulation measures well.',
        source: DERIVED,
      },
      {
        text: 'No shaft current is measured. The loop of the measurement alone can lower it by nearly 40 %.',
        source: CIRCULATING_RATIO,
      },
    ],
  },
  {
    id: 'rotor-to-ground',
    name: 'rotor-to-ground current',
    about: {
      text: 'Common-mode current returns to the drive through the shaft and the driven machine, because the frame is bonded worse than the load.',
      source: TAXONOMY,
    },
    confirm: [
      {
        text: 'High-frequency current through the coupling or the bonding of the driven machine, by current probe.',
        source: COMMON_PRACTICE,
      },
      {
        text: 'Voltage between motor frame and driven machine at high frequency while running.',
        source: COMMON_PRACTICE,
      },
    ],
    refute: [
      {
        text: 'Shaft and load are isolated from one another by the coupling, measured at standstill.',
        source: COMMON_PRACTICE,
      },
      {
        text: 'Good high-frequency bonding between motor, load and drive is measured, and counts stay.',
        source: DERIVED,
      },
    ],
  },
  {
    id: 'line-asymmetry',
    name: 'line asymmetry',
    about: {
      text: 'Asymmetry in the magnetic circuit or the supply drives a low-frequency shaft voltage, with or without an inverter.',
      source: SECONDARY_STANDARD,
    },
    confirm: [
      {
        text: 'Shaft voltage at supply frequency or its multiples while the motor runs on line supply.',
        source: COMMON_PRACTICE,
      },
    ],
    refute: [{ text: 'Counts vanish on line supply.', source: DERIVED }],
  },
  {
    id: 'interference',
    name: 'interference or cross-talk',
    about: {
      text: 'The sensor hears sparks or switching that are none of this motor: a neighbour, contactors, brushes, welding, radio.',
      source: COMMON_PRACTICE,
    },
    confirm: [
      {
        text: 'Counts go on at standstill, and come and go with a neighbour or with work in the hall.',
        source: DERIVED,
      },
      {
        text: 'A second sensor, or a portable counter, away from the bearing counts the same.',
        source: COMMON_PRACTICE,
      },
    ],
    refute: [
      { text: 'No counts at standstill while every neighbour runs.', source: DERIVED },
      { text: 'Counts drop within a hand of distance from the bearing.', source: COMMON_PRACTICE },
    ],
  },
  {
    id: 'earthing-contact',
    name: 'sparks of an earthing contact',
    about: {
      text: 'A brush or ring that earths the shaft sparks itself when it is worn, dirty or badly aligned, and is counted.',
      source: DERIVED,
    },
    confirm: [
      {
        text: 'Worn, burnt or dirty contact at the next inspection of the earthing device.',
        source: COMMON_PRACTICE,
      },
      { text: 'Counts fall after the contact was serviced and nothing else was done.', source: DERIVED },
    ],
    refute: [{ text: 'The contact is sound and shaft voltage is low, and counts stay.', source: DERIVED }],
  },
  {
    id: 'sensor-or-wiring',
    name: 'sensor or wiring fault',
    about: {
      text: 'The count changed because the sensor, its mounting, its threshold or its wiring did.',
      source: DERIVED,
    },
    confirm: [
      {
        text: 'A function check, or a known good device in its place, counts otherwise.',
        source: COMMON_PRACTICE,
      },
      {
        text: 'A portable counter held at the same place for the same time, in the same running condition, counts otherwise.',
        source: COMMON_PRACTICE,
      },
    ],
    refute: [{ text: 'A second device at the same place counts the same.', source: COMMON_PRACTICE }],
  },
];
