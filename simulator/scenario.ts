/**
 * A scenario with nothing left to guess: braces expanded, templates and defaults merged under what the file says.
 * A later, narrower name adds to an earlier, wider one: `booster-{1..6}` describes six pumps, `booster-4` its odd one.
 */
import { expandBraces } from './brace-expansion.js';
import {
  DEFAULT_MOTOR,
  DEFAULT_NETWORK,
  DEFAULT_SENSOR,
  DEFAULT_SITE_BURST,
  type Full,
} from './scenario-defaults.js';
import { ScenarioProblem } from './scenario-problem.js';
import type {
  DriveText,
  MotorText,
  NetworkText,
  RateAlarmText,
  ScenarioText,
  SensorText,
  SiteBurstText,
} from './scenario-schema.js';
import { isPlaceName, NAME_RULE } from '../shared/names.js';

export type SensorScenario = Full<SensorText>;
export type DeviceScenario = SensorScenario['device'];
export type DischargeScenario = SensorScenario['discharge'];
export type DriveScenario = Full<DriveText>;
export type SiteBurstScenario = Full<SiteBurstText>;
export type NetworkScenario = Full<NetworkText>;
type PlainMotor = typeof DEFAULT_MOTOR;
export type DutyScenario = PlainMotor['duty'];

export interface MotorScenario extends PlainMotor {
  readonly name: string;
  /** '' compared with none */
  readonly dutyGroup: string;
  readonly positions: ReadonlyMap<string, SensorScenario>;
  readonly alarms: { readonly [kind: string]: RateAlarmText };
}

export interface Scenario {
  readonly site: string;
  readonly description: string;
  readonly timeZone: string;
  readonly gateway: { readonly mqtt: string; readonly http: string };
  readonly motors: ReadonlyMap<string, MotorScenario>;
  readonly siteBursts: readonly SiteBurstScenario[];
  readonly network: NetworkScenario;
  /** a tick line in captures this often; null: none, replay lets ticks follow the arrivals */
  readonly ticksMs: number | null;
}

/** Resolves a scenario that has passed its schema. Throws `ScenarioProblem` where names lead nowhere. */
export function resolveScenario(text: ScenarioText): Scenario {
  const fragments = expandMotors(text);
  const motors = new Map<string, MotorScenario>();
  for (const [name, fragment] of fragments) motors.set(name, resolveMotor(name, fragment));
  if (motors.size === 0) throw new ScenarioProblem(['motors'], 'expected at least one motor');
  for (const motor of motors.values()) expandNeighbours(motor, motors);
  return {
    site: text.site,
    description: text.description ?? '',
    timeZone: text.timeZone ?? 'UTC',
    gateway: { mqtt: text.gateway?.mqtt ?? '127.0.0.1:1883', http: text.gateway?.http ?? '127.0.0.1:8080' },
    motors,
    siteBursts: (text.siteBursts ?? []).map((burst) => merge(DEFAULT_SITE_BURST, burst)),
    network: merge(DEFAULT_NETWORK, text.network ?? {}),
    ticksMs: text.ticksMs ?? null,
  };
}

/** Motor name to everything the file says about it, widest entry first. */
function expandMotors(text: ScenarioText): Map<string, MotorText> {
  const motors = new Map<string, MotorText>();
  for (const [pattern, own] of Object.entries(text.motors)) {
    const names = expandBraces(pattern);
    if (names === null)
      throw new ScenarioProblem(['motors', pattern], 'expected braces such as {1..6} or {a,b}');
    const fragment: MotorText = own ?? {};
    for (const name of names) {
      if (!isPlaceName(name))
        throw new ScenarioProblem(
          ['motors', pattern],
          `"${name}": expected ${NAME_RULE}, and no reserved name`,
        );
      const template = takeTemplate(text, pattern, fragment.template);
      motors.set(name, merge(merge(motors.get(name) ?? {}, template), fragment));
    }
  }
  return motors;
}

function takeTemplate(text: ScenarioText, pattern: string, name: string | undefined): MotorText {
  if (name === undefined) return {};
  const template = text.templates?.[name];
  if (template !== undefined) return template;
  const known = Object.keys(text.templates ?? {}).join(', ') || 'none';
  throw new ScenarioProblem(
    ['motors', pattern, 'template'],
    `expected a template of this file (${known}), found "${name}"`,
  );
}

function resolveMotor(name: string, fragment: MotorText): MotorScenario {
  const { positions: own, eachPosition, alarms, dutyGroup, ...rest } = fragment;
  delete rest.template;
  const positions = new Map<string, SensorScenario>();
  const each = merge(DEFAULT_SENSOR, eachPosition ?? {});
  for (const [position, sensor] of Object.entries(own ?? { de: null, nde: null })) {
    positions.set(position, merge(each, sensor ?? {}));
  }
  const plain = merge(DEFAULT_MOTOR, rest);
  const kept = Object.entries(alarms ?? {}).filter(([, alarm]) => alarm !== undefined);
  return { ...plain, name, dutyGroup: dutyGroup ?? '', positions, alarms: Object.fromEntries(kept) as never };
}

/** Neighbours may be named with braces; a motor is never its own neighbour. */
function expandNeighbours(motor: MotorScenario, motors: ReadonlyMap<string, MotorScenario>): void {
  for (const [position, sensor] of motor.positions) {
    const path = ['motors', motor.name, 'positions', position, 'discharge', 'crosstalk', 'from'];
    const names = sensor.discharge.crosstalk.from.flatMap((pattern) => {
      const expanded = expandBraces(pattern);
      if (expanded === null)
        throw new ScenarioProblem(path, `"${pattern}": expected braces such as {1..6} or {a,b}`);
      return expanded;
    });
    const missing = names.find((name) => !motors.has(name));
    if (missing !== undefined)
      throw new ScenarioProblem(path, `expected motors of this file, found "${missing}"`);
    sensor.discharge.crosstalk.from = [...new Set(names)].filter((name) => name !== motor.name);
  }
}

/** `over` on top of `under`, mapping by mapping; lists and plain values replace. Neither is changed. */
function merge<T extends object>(under: T, over: object): T {
  const merged: Record<string, unknown> = {};
  for (const [key, value] of Object.entries(under)) merged[key] = isMapping(value) ? merge(value, {}) : value;
  for (const [key, value] of Object.entries(over)) {
    if (value === undefined) continue;
    const old = merged[key];
    merged[key] = isMapping(value) ? merge(isMapping(old) ? old : {}, value) : value;
  }
  return merged as T;
}

function isMapping(value: unknown): value is object {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
