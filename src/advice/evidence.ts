/**
 * What is known about one motor when somebody asks why it discharges: plain data, gathered by whoever can read the store.
 * Null is "not known" everywhere and never counts as "no". Rates are pulses a second, times ms since the epoch.
 */

/** A rate ratio with its 95 % limits. `upper` null: the counts give no upper limit. */
export interface RatioEvidence {
  readonly ratio: number;
  readonly lower: number;
  readonly upper: number | null;
}

/** A rate of one class with its limits, dispersion allowed for; `ms` the exposure behind it. */
export interface RateEvidence {
  readonly perS: number;
  readonly lowerPerS: number;
  readonly upperPerS: number;
  readonly pulses: number;
  readonly ms: number;
}

/** The axes of a condition bin, in the words of the configuration. */
export type ConditionAxis = 'speed' | 'load' | 'switching' | 'temperature' | 'dcLink';

/** How the running rate in the upper cells of one axis compares with that in the lower cells, all other axes alike. */
export interface AxisEvidence extends RatioEvidence {
  readonly axis: ConditionAxis;
  /** the two cells compared, as they are named: `..600`, `1200..` */
  readonly low: string;
  readonly high: string;
}

/** Background counts while a neighbour's drive was modulating over those while it was not, own drive not modulating. */
export interface NeighbourEvidence extends RatioEvidence {
  readonly motor: string;
}

/** What one sensor of the motor has heard over the period looked at. Null: no exposure of that class. */
export interface SensorEvidence {
  readonly sensor: string;
  readonly position: string;
  readonly running: RateEvidence | null;
  /** without own modulation */
  readonly background: RateEvidence | null;
  /** running on line supply, the inverter bypassed */
  readonly bypass: RateEvidence | null;
  /** pulses set aside as bursts heard on several motors at once */
  readonly commonPulses: number;
  /** against the sisters of its duty group, like with like; null: none, or not comparable */
  readonly sisters: RatioEvidence | null;
  /** against its own baseline; null: no yardstick yet */
  readonly baseline: RatioEvidence | null;
  readonly axes: readonly AxisEvidence[];
  readonly neighbours: readonly NeighbourEvidence[];
  /** what the gateway noted about the device or its wiring, in words; null: not looked at */
  readonly faults: readonly string[] | null;
}

/** What was done to the motor, and what the counts did afterwards. */
export interface ActionEvidence {
  readonly id: string;
  readonly kind: string;
  /** position it was done at; null: the whole motor, or not said */
  readonly end: string | null;
  /** of a replaced bearing: same, insulated or hybrid; null otherwise */
  readonly bearing: string | null;
  readonly at: number;
  /** after over before, like with like, for the sensor that changed most; null: not enough exposure yet */
  readonly effect: RatioEvidence | null;
}

/** What was seen at an inspection of one bearing, in the words of the list of findings. Empty lists: not looked at. */
export interface FindingEvidence {
  readonly end: string;
  readonly at: number;
  /** modes of failure; `none`: looked for, not found */
  readonly modes: readonly string[];
  /** visible signs; `none`: looked for, not found */
  readonly signs: readonly string[];
  readonly lubricant: readonly string[];
  /** it was the bearing taken out at the last replacement, not the one that runs now */
  readonly isRemoved: boolean;
}

export interface MotorEvidence {
  readonly motor: string;
  /** rated power, kW; null: not configured */
  readonly powerKw: number | null;
  /** shaft height (frame size), mm; null: not configured */
  readonly frameMm: number | null;
  readonly sensors: readonly SensorEvidence[];
  /** in order of time, none withdrawn */
  readonly actions: readonly ActionEvidence[];
  /** in order of time, none withdrawn */
  readonly findings: readonly FindingEvidence[];
}
