/** What the schema cannot see in `modbus`: slots of motors that are not there, given twice or beyond the map, and open doors. */
import { countSlots, strideOf } from '../../shared/register-slots.js';
import { checkNames } from './check-motors.js';
import type { Config } from './config.js';
import { isLoopback } from './endpoint.js';
import { formatNumber } from './figures.js';
import { checkStale } from './check-stale.js';
import { spreadSlots } from './plc.js';
import type { Report } from './report.js';
import type { FileContent } from './schema.js';

const NAMES_MAX = 5;

export function checkModbus(content: FileContent, config: Config, report: Report): void {
  const { modbus } = config;
  if (modbus === null || content.modbus === undefined) return;
  const path = ['modbus'];
  if (!isLoopback(modbus.listen)) {
    const hint =
      'Modbus has no logins: keep it on a network of its own, behind a firewall that names the masters';
    report.warn(
      [...path, 'listen'],
      'an address that only the control system can reach',
      `"${content.modbus.listen}"`,
      {
        hint,
      },
    );
  }
  const twice = modbus.positions.find((one, index) => modbus.positions.indexOf(one) < index);
  if (twice !== undefined) report.error([...path, 'positions'], 'every position once', `"${twice}" again`);
  checkPositions(config, report);
  checkSlots(content.modbus.slots, config, report);
  checkStale([...path, 'staleMs'], modbus.staleMs, config, report);
}

function checkPositions({ modbus, motors }: Config, report: Report): void {
  const places = modbus?.positions ?? [];
  const left = motors.flatMap((motor) =>
    motor.positions
      .filter(({ position }) => !places.includes(position))
      .map((one) => `${motor.key}/${one.position}`),
  );
  if (left.length === 0) return;
  const hint =
    'they are not in the register map; a longer list may move every address, so name all before a PLC reads';
  report.warn(['modbus', 'positions'], 'a place for every position', `none for ${listNames(left)}`, { hint });
}

function checkSlots(
  slots: Readonly<Record<string, number>> | undefined,
  config: Config,
  report: Report,
): void {
  const positions = config.modbus?.positions.length ?? 1;
  const most = countSlots(positions);
  if (slots === undefined) {
    const hint =
      'without slots motors are put in the order of the file, and kept in the data directory; "tallypost registers --format slots" prints them';
    report.warn(['modbus'], 'slots, before a PLC reads', 'none', { hint, at: 'key' });
    if (config.motors.length > most)
      report.error(
        ['modbus'],
        `at most ${formatNumber(most)} motors in the map`,
        formatNumber(config.motors.length),
        {
          at: 'key',
        },
      );
    return;
  }
  const motors = config.motors.map(({ key }) => key);
  const holders = new Map<number, string>();
  const seen = new Set<string>();
  for (const pattern of Object.keys(slots)) {
    const path = ['modbus', 'slots', pattern];
    checkNames(pattern, path, motors, 'a motor of this file', report);
    for (const [motor, slot] of spreadSlots({ [pattern]: slots[pattern]! })) {
      const holder = holders.get(slot);
      if (seen.has(motor)) report.error(path, 'every motor once', `"${motor}" again`, { at: 'key' });
      else if (holder !== undefined)
        report.error(path, 'a slot of its own for every motor', `${slot} for ${motor}, which ${holder} has`);
      if (slot > most)
        report.error(path, `a slot up to ${most}`, `${slot} for ${motor}`, {
          hint: `each slot has ${strideOf(positions)} registers of 65,536`,
        });
      seen.add(motor);
      holders.set(slot, motor);
    }
  }
  const without = motors.filter((motor) => !seen.has(motor));
  if (without.length === 0) return;
  const next = Math.max(0, ...holders.keys()) + 1;
  const hint = `they are not in the register map; the next free slot is ${next}`;
  report.warn(['modbus', 'slots'], 'a slot for every motor', `none for ${listNames(without)}`, {
    hint,
    at: 'key',
  });
}

function listNames(names: readonly string[]): string {
  const more = names.length - NAMES_MAX;
  return names.slice(0, NAMES_MAX).join(', ') + (more > 0 ? ` and ${more} more` : '');
}
