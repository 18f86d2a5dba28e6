/**
 * The configuration as the core needs it: everything resolved, no defaults left to guess.
 * Built by `src/config` from the file; built by hand in tests. Times in ms, rates as the name says.
 */
import type { MotorKey, SensorKey } from './facts.js';

export interface SensorPlan {
  readonly key: SensorKey;
  readonly motor: MotorKey;
  readonly position: string;
  readonly intervalMs: number;
  /** declared width of the counter; 53: it does not wrap */
  readonly counterBits: 16 | 32 | 53;
  /** plausible maximum: configured, else min(1/deadTime, 6·f_switching), else 50,000 */
  readonly maxRatePerS: number;
  /** non-paralysable dead time of the sensor, seconds; 0: none known */
  readonly deadTimeS: number;
  /** motors whose drives switch close enough to be heard here */
  readonly coupledMotors: readonly MotorKey[];
  readonly clockErrorMs: number;
  readonly reorderWaitMs: number;
}

export interface MotorPlan {
  readonly key: MotorKey;
  readonly zone: string;
  readonly dutyGroup: string;
  /** false: no run-state signal; taken as running throughout, uncertain */
  readonly hasRunState: boolean;
  /** null: the drive reports on change */
  readonly heartbeatMs: number | null;
  readonly rampMs: number;
  readonly clockErrorMs: number;
  /** its deviation alarms are suppressed up to then; null: until the configuration says otherwise; absent: they are not */
  readonly commissioning?: { readonly until: number | null };
}

export type AxisName = 'speed' | 'load' | 'switching' | 'temperature' | 'dcLink';

/** One axis of the condition bins of a duty group. Units: rpm, %, kHz, degrees Celsius, V. */
export interface AxisPlan {
  readonly axis: AxisName;
  /** ascending; null: learnt from the group's first week */
  readonly edges: readonly number[] | null;
  /** around each edge, half of it on either side; less than the gap between two edges. Of a learnt axis the learning finds it */
  readonly deadband: number;
  /** how many bins are to be learnt; 0 where the edges are given */
  readonly learn: number;
  /** what ran before this time is not learnt from, and another time learns anew; null: from the beginning */
  readonly learnSince: number | null;
}

/** A duty group with axes. */
export interface DutyGroupPlan {
  readonly key: string;
  /** each axis once, in the order of `AxisName` */
  readonly axes: readonly AxisPlan[];
}

/** Rated power and shaft height; null: not configured. */
export interface NameplatePlan {
  readonly powerKw: number | null;
  readonly frameMm: number | null;
}

export interface GatePlan {
  readonly beforeEdgeMs: number; // 2,000
  readonly afterRunningMs: number; // 5,000
  readonly afterStoppedMs: number; // 10,000
  readonly capMs: number; // 120,000
  readonly mergeMs: number; // 5,000
  readonly coupledMs: number; // 1,000
  readonly settleMs: number; // 5,000: a drive that reports on change is settled up to now − this
  readonly settleWaitMs: number; // 60,000
  readonly maxIntervalFactor: number; // 3.15
}

export interface CommonPlan {
  readonly tail: number; // 1e-4
  readonly windowsMin: number; // 60
  readonly motorsMin: number; // 3
  readonly shareMin: number; // 0.3
  readonly quietMs: number; // 600,000 after a change of its own run state or speed
  readonly speedStep: number; // 0.1: a step in speed, as a share
}

/** What people are told of an alarm, whatever its rule. */
export interface AlarmAttributes {
  readonly priority: 'low' | 'medium' | 'high';
  /** alarms that are treated alike, such as `condition` or `instrument` */
  readonly class: string;
  /** within which the action should begin; an alarm that nobody acknowledged by then is escalated. null: none is stated */
  readonly timeToRespondMs: number | null;
  readonly consequence: string;
  readonly action: string;
  /** why this rule, or this setpoint */
  readonly rationale: string;
}

/** What is said of an alarm beside its rule. Empty texts, and no time, where nothing says more. */
export type AlarmAdvice = Omit<AlarmAttributes, 'priority'>;

/** What the site says of an alarm that stands for many; undefined: as `causes.ts` has it. */
export type GroupAlarmPlan = { readonly [K in keyof AlarmAttributes]?: AlarmAttributes[K] | undefined } & {
  /** how long a member waits for its like before it is told alone */
  readonly gatherMs?: number | undefined;
};

export interface RateAlarmPlan extends AlarmAttributes {
  readonly id: string;
  readonly motor: MotorKey;
  readonly alarm: string;
  readonly sensor: SensorKey;
  readonly kind: 'rate-high' | 'rate-high-high';
  readonly setpointPerMin: number;
  readonly deadbandPerMin: number;
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  /** running exposure of the evaluation window, 600,000 */
  readonly windowMs: number;
  /** two-sided confidence of the limits, from the false-alarm budget */
  readonly confidence: number;
  readonly latching: boolean;
}

/** Alarms on a plain condition that holds or not: no-readings, run-state-lost, counter-unknown, rejecting, saturated, clock-off. */
export interface ConditionAlarmPlan extends AlarmAttributes {
  readonly id: string;
  readonly motor: MotorKey;
  readonly alarm: string;
  readonly sensor: SensorKey | null;
  readonly kind:
    'no-readings' | 'run-state-lost' | 'counter-unknown' | 'rejecting' | 'saturated' | 'clock-off';
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  readonly latching: boolean;
}

/** The alarm that the receiver of one sink gets new records too late; see forwarding.ts. */
export interface ForwardingAlarmPlan extends AlarmAttributes {
  readonly id: string;
  /** it is the gateway's own */
  readonly motor: 'gateway';
  readonly alarm: string;
  readonly sensor: null;
  readonly kind: 'forwarding-behind';
  readonly sink: string;
  /** new records may wait for so long */
  readonly limitMs: number;
  /** it returns below the limit less this */
  readonly deadbandMs: number;
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  readonly latching: boolean;
}

export type DeviationKind =
  'above-baseline' | 'above-peers' | 'rising' | 'silent-in-company' | 'background-high';

/** Alarms on a yardstick of the motor's own or of its sisters, instead of a setpoint of the site's. */
export interface DeviationAlarmPlan extends AlarmAttributes {
  readonly id: string;
  readonly motor: MotorKey;
  readonly alarm: string;
  readonly sensor: SensorKey;
  readonly kind: DeviationKind;
  /** above-baseline, background-high: times the yardstick at which the limits must lie */
  readonly factor: number;
  /** background-high: a setpoint of the site's own instead of the past; null: the past */
  readonly setpointPerMin: number | null;
  /** return below factor × (1 − this) */
  readonly deadbandShare: number;
  /** in running exposure */
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  /** running exposure (background-high: background exposure) that is judged at once */
  readonly windowMs: number;
  /** this alarm's share of the plant's budget */
  readonly falseAlarmsPerMonth: number;
  readonly latching: boolean;
}

/** When a yardstick is no longer one, ms. */
export interface BaselinePlan {
  readonly ageMaxMs: number;
  readonly unvisitedMaxMs: number;
}

export interface Plan {
  readonly site: string;
  /** revision of the configuration: a short hash of its text */
  readonly revision: string;
  readonly reviseHorizonMs: number; // 7 days
  readonly futureToleranceMs: number; // 120,000
  readonly gate: GatePlan;
  readonly common: CommonPlan;
  readonly motors: ReadonlyMap<MotorKey, MotorPlan>;
  /** motors that have one; the core has no use for it, but what is told of a motor must follow a reload */
  readonly nameplates?: ReadonlyMap<MotorKey, NameplatePlan>;
  readonly sensors: ReadonlyMap<SensorKey, SensorPlan>;
  /** duty groups that have axes; what motors of other groups run is in one bin, `all` */
  readonly dutyGroups: ReadonlyMap<string, DutyGroupPlan>;
  /** longest time for which an alarm may be shelved */
  readonly shelfMaxMs: number;
  /** by kind of group */
  readonly groupAlarms: Readonly<Record<string, GroupAlarmPlan | undefined>>;
  readonly rateAlarms: readonly RateAlarmPlan[];
  readonly conditionAlarms: readonly ConditionAlarmPlan[];
  readonly baseline: BaselinePlan;
  readonly deviationAlarms: readonly DeviationAlarmPlan[];
  /** one for each sink; absent: nothing is forwarded */
  readonly forwardingAlarms?: readonly ForwardingAlarmPlan[];
}
