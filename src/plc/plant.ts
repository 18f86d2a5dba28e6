/**
 * The plant as the servers for PLC and HMI know it: what there is, and how old a value may get. Made from the
 * configuration; survives the way to another process.
 */
import type { AlarmPriority } from '../../shared/alarm-terms.js';

export interface PlantSensor {
  readonly key: string;
  readonly motor: string;
  readonly position: string;
  /** a value older than this is told as unknown, ms */
  readonly staleMs: number;
  /** a rate older than this is the last usable one rather than a good one, ms; at most `staleMs` */
  readonly goodMs: number;
}

export interface PlantMotor {
  readonly key: string;
  readonly zone: string;
  /** false: nobody reports its drive */
  readonly hasRunState: boolean;
  /** its state is known for so long after a message, ms; null: until its reporter goes absent */
  readonly knownMs: number | null;
}

/** An alarm of the configuration, with what its operator is asked to do. */
export interface PlantAlarm {
  readonly id: string;
  readonly motor: string;
  readonly sensor: string | null;
  readonly kind: string;
  readonly priority: AlarmPriority;
  readonly action: string;
  readonly consequence: string;
}

export interface Plant {
  readonly site: string;
  readonly motors: readonly PlantMotor[];
  readonly sensors: readonly PlantSensor[];
  readonly alarms: readonly PlantAlarm[];
}

/** How long the gateway may say nothing before all it said counts as unknown. Our choice: five of its beats of 2 s. */
export const FEED_LOST_MS = 10_000;
