/**
 * The observations that rules speak of: each has a few values, or null when the evidence does not say. An observation is
 * made on limits, never on the ratio alone, so that few counts leave it open instead of deciding it.
 */

/** Every observation and the values that it can take. */
export interface ObservationValues {
  /** do the two ends of the motor discharge alike */
  ends: 'alike' | 'one-end';
  /** counts without own modulation, against those with it */
  modulation: 'follows' | 'without';
  /** counts while the motor runs on line supply, the inverter bypassed */
  bypass: 'present' | 'absent';
  speed: Course;
  load: Course;
  switching: Course;
  temperature: Course;
  dcLink: Course;
  /** background counts and the run state of a neighbour */
  neighbour: 'follows' | 'none';
  /** share of bursts that were heard on several motors at once */
  commonBursts: 'many' | 'few';
  size: 'small' | 'middle' | 'large';
  sisters: 'odd' | 'alike';
  earthingFitted: 'yes' | 'none-on-record';
  insulation: 'one-end' | 'both-ends' | 'none-on-record';
  afterEarthing: Effect;
  afterInsulation: Effect;
  afterFilter: Effect;
  afterBonding: Effect;
  /** after the sensor was moved or its device swapped */
  afterSensorWork: 'changed' | 'same';
  erosion: 'seen' | 'not-seen';
  lubricant: 'burnt' | 'sound';
  device: 'faults' | 'clean';
}

export type Course = 'rises' | 'falls' | 'level';
export type Effect = 'fell' | 'same' | 'rose';
export type ObservationId = keyof ObservationValues;

/** `value` null: not known, and `text` says what would make it known. */
export type Observation = {
  readonly [K in ObservationId]: {
    readonly id: K;
    readonly value: ObservationValues[K] | null;
    readonly text: string;
  };
}[ObservationId];
