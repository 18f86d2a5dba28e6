/** Plants for the tests of the simulator: one motor and as much of a scenario as the test is about. */
import { resolveScenario, type Scenario } from '../../simulator/scenario.js';
import type { MotorText, ScenarioText, SensorText } from '../../simulator/scenario-schema.js';
import type { Message } from '../../simulator/messages.js';
import { simulate, type Simulation } from '../../simulator/simulation.js';

export const START = Date.UTC(2026, 2, 2, 6, 0, 0);

/** A motor `pump` with one sensor `de`, always running and quiet on its line unless the test says otherwise. */
export function makeScenario(
  device: NonNullable<SensorText['device']> = {},
  motor: MotorText = {},
  site: Partial<ScenarioText> = {},
): Scenario {
  const plain: MotorText = {
    duty: { kind: 'continuous' },
    eachPosition: { device },
    positions: { de: null },
  };
  return resolveScenario({ site: 'works', motors: { pump: { ...plain, ...motor } }, ...site });
}

export function runHours(scenario: Scenario, hours: number, seed = 1): Simulation {
  return simulate(scenario, seed, hours, { start: START });
}

export interface ReadingBody {
  device?: string;
  count: number;
  at?: number;
  seq?: number;
  boot?: number;
  up_ms?: number;
  check?: boolean;
}

export type Reading = Omit<Message, 'payload'> & { readonly payload: ReadingBody };
export type DriveState = Omit<Message, 'payload'> & { readonly payload: DriveBody };

/** Readings of one sensor, in order of arrival. */
export function readingsOf(messages: readonly Message[], sensor = 'pump/de'): Reading[] {
  return messages.filter((message) => message.topic === `works/in/${sensor}/reading`) as never;
}

export interface DriveBody {
  state: string;
  at?: number;
  since?: number;
  modulating?: boolean;
  speed_rpm?: number;
}

export function driveStatesOf(messages: readonly Message[], motor = 'pump'): DriveState[] {
  return messages.filter((message) => message.topic === `works/in/${motor}/drive/state`) as never;
}
