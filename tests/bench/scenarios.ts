/** The loads that are measured, by name. */
import type { LoadWishes } from './load.js';

export interface Scenario {
  readonly name: string;
  readonly says: string;
  readonly load: Omit<LoadWishes, 'port' | 'site' | 'seconds'>;
  /** 'ratio': compared with the bare broker; 'latency': reported */
  readonly kind: 'ratio' | 'latency';
}

const DAY_MS = 86_400_000;

export const SCENARIOS: readonly Scenario[] = [
  {
    name: '50x20',
    says: '50 connections with 20 readings on their way each',
    load: { connections: 50, window: 20, driveStates: true },
    kind: 'ratio',
  },
  {
    name: '500x1',
    says: '500 connections with one reading on its way each',
    load: { connections: 500, window: 1, driveStates: true },
    kind: 'ratio',
  },
  {
    name: 'backlog',
    says: '50 connections send two days of readings 10 s apart, with 20 on their way each',
    load: {
      connections: 50,
      window: 20,
      driveStates: true,
      stepMs: 10_000,
      behindMs: 3 * DAY_MS,
      messages: 20_000,
    },
    kind: 'ratio',
  },
  {
    name: 'latency-1',
    says: 'one connection, one reading on its way',
    load: { connections: 1, window: 1, driveStates: true },
    kind: 'latency',
  },
  {
    name: 'latency-50',
    says: '50 connections, one reading on its way each',
    load: { connections: 50, window: 1, driveStates: true },
    kind: 'latency',
  },
  {
    name: 'latency-500',
    says: '500 connections, one reading on its way each',
    load: { connections: 500, window: 1, driveStates: true },
    kind: 'latency',
  },
  {
    name: 'latency-2000',
    says: '2,000 connected, 50 of them with one reading on its way each',
    load: { connections: 50, idle: 1950, window: 1, driveStates: true },
    kind: 'latency',
  },
  {
    name: 'latency-2000-paced',
    says: '2,000 connected, each with a reading every 2 s',
    load: { connections: 2000, window: 1, perSecond: 1000, driveStates: true },
    kind: 'latency',
  },
];

export function findScenario(name: string): Scenario {
  const found = SCENARIOS.find((scenario) => scenario.name === name);
  if (found === undefined)
    throw new Error(`no scenario "${name}": one of ${SCENARIOS.map((s) => s.name).join(', ')}`);
  return found;
}
