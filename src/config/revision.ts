/**
 * One text for one meaning: the same for two files that configure the same plant, whatever their order, comments,
 * templates or folder. The revision on every alarm's evidence is a hash of it.
 */
import { createHash } from 'node:crypto';
import type { DutyGroupPlan } from '../core/plan.js';
import type { Config, MotorConfig } from './config.js';

/** Values by path, sorted: `motors.booster-1.positions.de.intervalMs` to its JSON. */
export type Settings = ReadonlyMap<string, string>;

/** First 12 hex digits of the SHA-256 of the settings. */
export function hashRevision(config: Config): string {
  const text = [...listSettings(config)].map(([path, value]) => `${path}=${value}\n`).join('');
  return createHash('sha256').update(text).digest('hex').slice(0, 12);
}

/** Every setting that means something: not the file's name, and not the braces that a motor was written with. */
export function listSettings(config: Config): Settings {
  const users = config.mqtt.users === null ? null : byName(config.mqtt.users, (user) => user.name);
  const httpUsers = config.http.users === null ? null : byName(config.http.users, (user) => user.name);
  const http = { ...config.http, users: httpUsers };
  const motors = byName(config.motors.map(nameParts), (motor) => motor.key);
  const settings: [string, string][] = [];
  const dutyGroups = byName(config.dutyGroups.map(nameAxes), (group) => group.key);
  const sinks = byName(config.sinks, (one) => one.name);
  flatten(
    { ...config, file: '', mqtt: { ...config.mqtt, users }, http, sinks, dutyGroups, motors },
    '',
    settings,
  );
  return new Map(settings.sort(([a], [b]) => (a < b ? -1 : 1)));
}

function nameParts(motor: MotorConfig) {
  return {
    ...motor,
    pattern: '',
    positions: byName(motor.positions, (one) => one.position),
    rateAlarms: byName(motor.rateAlarms, (one) => one.kind),
    conditionAlarms: byName(motor.conditionAlarms, (one) => one.kind),
  };
}

function nameAxes({ key, axes }: DutyGroupPlan) {
  return { key, axes: byName(axes, (one) => one.axis) };
}

function byName<T>(items: readonly T[], name: (item: T) => string): Record<string, T> {
  return Object.fromEntries(items.map((item) => [name(item), item]));
}

function flatten(value: unknown, path: string, into: [string, string][]): void {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    into.push([path, JSON.stringify(value)]);
    return;
  }
  for (const [key, inner] of Object.entries(value))
    flatten(inner, path === '' ? key : `${path}.${key}`, into);
}
