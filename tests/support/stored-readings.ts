/** What a data directory says it holds, asked through the program's own commands. */
import { createInterface } from 'node:readline';
import { spawn } from 'node:child_process';
import { runTallypost } from './gateway-process.js';
import { builtFile } from './repository.js';

/** One row of `tallypost export increments`, as far as tests look at it. */
export interface StoredReading {
  readonly sensor: string;
  readonly device: string;
  readonly boot: number | null;
  readonly seq: number | null;
  readonly count: number;
  readonly pulses: number;
  readonly ms: number;
  readonly class: string;
}

/** Visits every stored reading, in the order of the export. Throws with the command's own words when it fails. */
export async function visitStored(dataDir: string, visit: (row: StoredReading) => void): Promise<void> {
  const args = [builtFile('src/main.js'), 'export', 'increments', '--data', dataDir, '--format', 'ndjson'];
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  child.stderr.on('data', (chunk: Buffer) => (said += chunk.toString('utf8')));
  const ended = new Promise<number | null>((resolve) => child.once('close', resolve));
  for await (const line of createInterface({ input: child.stdout })) {
    if (line !== '') visit(JSON.parse(line) as StoredReading);
  }
  const code = await ended;
  if (code !== 0) throw new Error(`export increments ended with ${code}:\n${said}`);
}

/** Throws when the ledger does not balance. */
export async function proveLedger(dataDir: string): Promise<void> {
  const done = await runTallypost(['ledger', '--data', dataDir]);
  if (done.code !== 0) throw new Error(`the ledger ended with ${done.code}:\n${done.out}\n${done.err}`);
}
