/**
 * The configuration after templates, braces and defaults: what the gateway runs on.
 * Secrets stay references here; see secrets.ts.
 */
import type { DeviationAlarmKind } from './deviation-defaults.js';
import type { AlarmAttributes, DutyGroupPlan } from '../core/plan.js';
import type { ConditionAlarmKind, RateAlarmKind } from './motor-defaults.js';
import type { Endpoint } from './endpoint.js';
import type { NotifyConfig, SecretReference } from './notify.js';
import type { ModbusConfig, OpcuaConfig } from './plc.js';
import type { FileContent } from './schema.js';

export type Role = 'device' | 'drive' | 'reader';

/** One MQTT login. */
export interface UserConfig {
  readonly name: string;
  readonly password: SecretReference;
  readonly role: Role;
  /** `<motor>/<position>` that a device may publish for; empty for the other roles */
  readonly sensors: readonly string[];
  /** motors whose drive a drive reporter may publish for; empty for the other roles */
  readonly motors: readonly string[];
}

export interface MqttConfig extends Omit<FileContent['mqtt'], 'listen' | 'users'> {
  readonly listen: Endpoint;
  /** null: loopback only, and no login */
  readonly users: readonly UserConfig[] | null;
}

export interface DriveConfig {
  readonly heartbeatMs: number | null;
  readonly rampMs: number;
  readonly runState: 'reported' | 'none';
  readonly clockErrorMs: number;
  /** null: not known */
  readonly switchingKhz: number | null;
}

/** null: not configured */
export interface NameplateConfig {
  readonly powerKw: number | null;
  readonly frameMm: number | null;
}

/** Being set up, up to a time (ms); null: until the configuration says otherwise. */
export interface CommissioningConfig {
  readonly until: number | null;
}

export interface PositionConfig {
  readonly position: string;
  readonly intervalMs: number;
  readonly counterBits: 16 | 32 | 53;
  /** null: follows from dead time and switching frequency */
  readonly maxRatePerS: number | null;
  readonly deadTimeUs: number;
  /** other motors; never its own */
  readonly coupledTo: readonly string[];
  readonly clockErrorMs: number;
  readonly reorderWaitMs: number;
}

export interface RateAlarmConfig extends AlarmAttributes {
  readonly latching: boolean;
  readonly kind: RateAlarmKind;
  readonly setpointPerMin: number;
  readonly deadbandPerMin: number;
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  readonly windowMs: number;
  /** of the two-sided limits; null: from the false-alarm budget */
  readonly confidence: number | null;
  readonly positions: readonly string[];
}

export interface ConditionAlarmConfig extends AlarmAttributes {
  readonly latching: boolean;
  readonly kind: ConditionAlarmKind;
  /** null: the kind's default, which for `no-readings` grows with the sensor's interval */
  readonly onDelayMs: number | null;
  readonly offDelayMs: number;
}

export interface DeviationAlarmConfig extends AlarmAttributes {
  readonly latching: boolean;
  readonly kind: DeviationAlarmKind;
  readonly factor: number;
  /** background-high: a setpoint of the site's own; null: its own past */
  readonly setpointPerMin: number | null;
  readonly deadbandShare: number;
  readonly onDelayMs: number;
  readonly offDelayMs: number;
  readonly windowMs: number;
  readonly positions: readonly string[];
}

export interface MotorConfig {
  readonly key: string;
  /** the key of the file that it came from, braces and all */
  readonly pattern: string;
  readonly zone: string;
  readonly dutyGroup: string;
  readonly nameplate: NameplateConfig;
  /** null: it is not */
  readonly commissioning: CommissioningConfig | null;
  readonly drive: DriveConfig;
  readonly positions: readonly PositionConfig[];
  readonly rateAlarms: readonly RateAlarmConfig[];
  readonly conditionAlarms: readonly ConditionAlarmConfig[];
  readonly deviationAlarms: readonly DeviationAlarmConfig[];
}

export interface Config extends Omit<
  FileContent,
  'mqtt' | 'http' | 'notify' | 'modbus' | 'opcua' | 'dutyGroups' | 'templates' | 'motors'
> {
  /** path of the file as it was given */
  readonly file: string;
  readonly mqtt: MqttConfig;
  readonly http: { readonly listen: Endpoint };
  readonly notify: NotifyConfig;
  /** null: there is no such server */
  readonly modbus: ModbusConfig | null;
  readonly opcua: OpcuaConfig | null;
  /** those that have axes */
  readonly dutyGroups: readonly DutyGroupPlan[];
  readonly motors: readonly MotorConfig[];
}
