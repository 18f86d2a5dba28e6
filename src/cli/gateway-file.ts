/**
 * `gateway.json` in the data directory: how other commands find the gateway that runs on it.
 * It is a hint, not a lock: the process it names is asked whether it still lives.
 */
import { readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

export interface GatewayFile {
  readonly pid: number;
  /** `http://127.0.0.1:8080` */
  readonly http: string;
  /** `mqtt://127.0.0.1:1883` */
  readonly mqtt: string;
  readonly startedAt: string;
}

const NAME = 'gateway.json';

/** Written beside and renamed, so that a reader never sees half of it. */
export function writeGatewayFile(dataDir: string, file: GatewayFile): void {
  const path = join(dataDir, NAME);
  writeFileSync(`${path}.new`, `${JSON.stringify(file, null, 2)}\n`, { mode: 0o600 });
  renameSync(`${path}.new`, path);
}

export function removeGatewayFile(dataDir: string): void {
  rmSync(join(dataDir, NAME), { force: true });
}

/** null: no gateway runs on this directory (no file, an unreadable one, or a process that is gone). */
export function findGateway(dataDir: string): GatewayFile | null {
  let text: string;
  try {
    text = readFileSync(join(dataDir, NAME), 'utf8');
  } catch {
    return null;
  }
  let file: unknown;
  try {
    file = JSON.parse(text);
  } catch {
    return null;
  }
  if (typeof file !== 'object' || file === null) return null;
  const { pid, http, mqtt, startedAt } = file as Partial<Record<keyof GatewayFile, unknown>>;
  if (typeof pid !== 'number' || typeof http !== 'string' || !isAlive(pid)) return null;
  return { pid, http, mqtt: String(mqtt), startedAt: String(startedAt) };
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error instanceof Error && 'code' in error && error.code === 'EPERM';
  }
}
