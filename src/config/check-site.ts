/** What only the whole plant shows: logins, listeners, zones, and how long records are kept. */
import type { Config } from './config.js';
import { checkNames } from './check-motors.js';
import { isLoopback } from './endpoint.js';
import type { Endpoint } from './endpoint.js';
import { formatNumber } from './figures.js';
import type { Report } from './report.js';
import type { FileContent } from './schema.js';

/** Longer ones leave no room for `zone-` in a name of 40. */
const ZONE_NAME_MAX = 35;
/** A burst is common when it is heard on three other motors, so a zone needs four. */
const ZONE_MOTORS_MIN = 4;

export function checkSite(content: FileContent, config: Config, report: Report): void {
  checkListeners(content, config, report);
  checkUsers(content, config, report);
  checkZones(config, report);
  checkRetention(config, report);
}

/**
 * Why a listener may not stand as it is, or null. Used for the command line's HOST:PORT too.
 * `hasUsers`: logins are configured and this listener asks for them.
 */
export function judgeListener(endpoint: Endpoint, hasUsers: boolean): string | null {
  if (isLoopback(endpoint) || hasUsers) return null;
  return 'a loopback address such as 127.0.0.1, because this listener asks nobody for a password';
}

function checkListeners(content: FileContent, config: Config, report: Report): void {
  const mqtt = judgeListener(config.mqtt.listen, content.mqtt.users !== undefined);
  if (mqtt !== null) {
    const hint = 'configure mqtt.users to open it to the network';
    report.error(['mqtt', 'listen'], mqtt, `"${content.mqtt.listen}"`, { hint });
  }
}

function checkUsers(content: FileContent, config: Config, report: Report): void {
  const motors = config.motors.map(({ key }) => key);
  const sensors = config.motors.flatMap((motor) =>
    motor.positions.map(({ position }) => `${motor.key}/${position}`),
  );
  const seen = new Set<string>();
  (content.mqtt.users ?? []).forEach((user, index) => {
    const path = ['mqtt', 'users', index];
    if (seen.has(user.name)) report.error([...path, 'name'], 'every login name once', `"${user.name}" again`);
    seen.add(user.name);
    const references = [user.passwordFile, user.passwordEnv].filter((reference) => reference !== undefined);
    if (references.length !== 1) {
      const found = references.length === 0 ? 'neither' : 'both';
      report.error(path, 'one of passwordFile and passwordEnv', found, { at: 'key' });
    }
    checkRole(user, path, report);
    user.sensors?.forEach((one, item) =>
      checkNames(one, [...path, 'sensors', item], sensors, 'a sensor of this file', report),
    );
    user.motors?.forEach((one, item) =>
      checkNames(one, [...path, 'motors', item], motors, 'a motor of this file', report),
    );
  });
}

type FileUser = NonNullable<FileContent['mqtt']['users']>[number];

function checkRole(user: FileUser, path: readonly (string | number)[], report: Report): void {
  const wanted = { device: 'sensors', drive: 'motors', reader: null }[user.role];
  for (const key of ['sensors', 'motors'] as const) {
    const given = user[key];
    if (key === wanted && (given === undefined || given.length === 0)) {
      report.error([...path, key], `the ${key} that this ${user.role} may publish for`, 'none', {
        at: 'key',
      });
    } else if (key !== wanted && given !== undefined) {
      report.error([...path, key], `no ${key} for the role ${user.role}`, 'a list', { at: 'key' });
    }
  }
}

function checkZones(config: Config, report: Report): void {
  const zones = new Map<string, Config['motors'][number][]>();
  for (const motor of config.motors) zones.set(motor.zone, [...(zones.get(motor.zone) ?? []), motor]);
  for (const [zone, motors] of zones) {
    const first = motors[0];
    if (first !== undefined) checkZoneName(zone, first.pattern, config, report);
    if (first === undefined || motors.length >= ZONE_MOTORS_MIN) continue;
    const hint = 'with fewer, bursts common to the zone cannot be assessed and count as running';
    const found = `${motors.length} in "${zone}"`;
    report.warn(['motors', first.pattern, 'zone'], `at least ${ZONE_MOTORS_MIN} motors in a zone`, found, {
      hint,
      at: 'key',
    });
  }
}

/** Alarms of a zone stand where those of a motor do, under `zone-<zone>`: that must be a name, and nobody's else. */
function checkZoneName(zone: string, pattern: string, config: Config, report: Report): void {
  if (zone.length > ZONE_NAME_MAX) {
    const found = `${zone.length} characters`;
    report.error(['motors', pattern, 'zone'], `a zone of at most ${ZONE_NAME_MAX} characters`, found, {
      at: 'key',
    });
  }
  const namesake = config.motors.find(({ key }) => key === `zone-${zone}`);
  if (namesake === undefined) return;
  const expected = 'a name of its own: the alarms of the zone have this one';
  report.error(['motors', namesake.pattern], expected, `"${namesake.key}"`, { at: 'key' });
}

/** What may still be revised must still be there. */
function checkRetention(config: Config, report: Report): void {
  const horizon = config.core.reviseHorizonDays;
  for (const key of [
    'incrementsDays',
    'windowsDays',
    'drivesDays',
    'minutesDays',
    'tenMinutesDays',
    'hoursDays',
  ] as const) {
    const kept = config.storage.retention[key];
    if (kept >= horizon + 1) continue;
    const expected = `at least a day more than reviseHorizonDays, ${formatNumber(Math.ceil(horizon + 1))}`;
    report.error(['storage', 'retention', key], expected, formatNumber(kept));
  }
}
