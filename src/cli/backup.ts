/**
 * `tallypost backup`: a consistent copy of the store. A running gateway makes it itself, on the connection that writes;
 * otherwise the store is opened here.
 */
import { existsSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { type Command, CommandFailure, Exit, flagOf, textOf } from './command.js';
import { DATA_OPTION } from './config-argument.js';
import { findGateway, type GatewayFile } from './gateway-file.js';
import { LOGIN_HINT, loginHeaders } from './gateway-login.js';

const TIMEOUT_MS = 600_000;

export const backupCommand: Command = {
  name: 'backup',
  summary: 'copy the store, also while the gateway runs',
  about:
    'Writes a consistent copy of the store to OUT, which must not exist yet. While a gateway runs on the data\n' +
    'directory it makes the copy itself, without a pause; otherwise the store is opened here.',
  options: {
    data: DATA_OPTION,
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [{ name: 'OUT', about: 'the file to write', least: 1, most: 1 }],
  examples: ['tallypost backup --data data /mnt/backup/tallypost-2026-03-02.db'],
  async run(args, terminal) {
    const dataDir = textOf(args, 'data');
    const out = resolve(args.positionals[0] ?? '');
    if (existsSync(out))
      throw new CommandFailure(`${out} exists already.`, 'Choose another name; nothing is overwritten.');
    if (!existsSync(dirname(out)))
      throw new CommandFailure(`The folder ${dirname(out)} does not exist.`, 'Create it first.');
    const gateway = findGateway(dataDir);
    const bytes = gateway === null ? await copyStore(dataDir, out) : await askGateway(gateway, out);
    const by = gateway === null ? 'store' : 'gateway';
    await terminal.out(
      flagOf(args, 'json') ? `${JSON.stringify({ path: out, bytes, by })}\n` : `${out}: ${bytes} bytes\n`,
    );
    return Exit.ok;
  },
};

async function askGateway(gateway: GatewayFile, out: string): Promise<number> {
  let response: Response;
  try {
    response = await fetch(`${gateway.http}/api/v1/backups`, {
      method: 'POST',
      headers: { 'content-type': 'application/json', ...loginHeaders() },
      body: JSON.stringify({ path: out }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
  } catch (error) {
    if (error instanceof CommandFailure) throw error;
    const cause = error instanceof Error ? error.message : String(error);
    throw new CommandFailure(
      `The gateway with process id ${gateway.pid} does not answer on ${gateway.http} (${cause}).`,
      'Look at its log; if it hangs, stop it and repeat this command.',
    );
  }
  const answer = (await response.json()) as { bytes?: number; detail?: string; hint?: string };
  if (!response.ok || answer.bytes === undefined) {
    throw new CommandFailure(
      `The gateway could not copy its store: ${answer.detail ?? response.status}`,
      response.status === 401 ? LOGIN_HINT : (answer.hint ?? ''),
    );
  }
  return answer.bytes;
}

async function copyStore(dataDir: string, out: string): Promise<number> {
  const { openReader } = await import('../store/reader.js');
  openReader(dataDir).close(); // a folder without a store is told, not made
  const { openStore } = await import('../store/store.js');
  const store = openStore(dataDir);
  try {
    return await store.backup(out);
  } finally {
    store.close();
  }
}
