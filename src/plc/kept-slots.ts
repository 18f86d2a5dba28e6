/** The slots that a running gateway gave, in a file of the data directory, so that the next start gives the same. */
import { existsSync, mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

const FILE = 'modbus-slots.json';

/** Throws when the file is there and is not what was written: addresses that might move are worse than none. */
export function readKeptSlots(dataDir: string): Map<string, number> {
  const path = join(dataDir, FILE);
  if (!existsSync(path)) return new Map();
  try {
    const { slots } = JSON.parse(readFileSync(path, 'utf8')) as { slots: Record<string, unknown> };
    const entries = Object.entries(slots);
    if (!entries.every((entry): entry is [string, number] => Number.isInteger(entry[1])))
      throw new Error('a slot is no whole number');
    return new Map(entries);
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    throw new Error(
      `${path} cannot be read (${reason}): it holds the register addresses given so far. Bring it back from a copy, or write modbus.slots into the configuration and remove it.`,
    );
  }
}

/** `isWhole`: they are all there are, from the configuration; else they are added and nothing is taken away. */
export function keepSlots(dataDir: string, slots: ReadonlyMap<string, number>, isWhole: boolean): void {
  const before = readKeptSlots(dataDir);
  const after = isWhole ? new Map(slots) : new Map([...before, ...slots]);
  if (before.size === after.size && [...after].every(([motor, slot]) => before.get(motor) === slot)) return;
  mkdirSync(dataDir, { recursive: true });
  const path = join(dataDir, FILE);
  const text = JSON.stringify({ version: 1, slots: Object.fromEntries(after) }, null, 2);
  writeFileSync(`${path}.new`, `${text}\n`);
  renameSync(`${path}.new`, path);
}
