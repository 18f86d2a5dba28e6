/** A machine that has no process to give: the server is told to be away and tried again, and the gateway goes on. */
import type * as ChildProcesses from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { expect, it, vi } from 'vitest';
import { NewsBoard } from '../../src/plc/news-board.js';
import { ServerHost } from '../../src/plc/server-host.js';

const refusals = vi.hoisted(() => ({ left: 0 }));
vi.mock('node:child_process', async (original) => {
  const real = await original<typeof ChildProcesses>();
  return {
    ...real,
    fork: (...args: Parameters<typeof real.fork>) => {
      if (refusals.left-- > 0) throw new Error('spawn EAGAIN');
      return real.fork(...args);
    },
  };
});

/** Listens as far as the gateway can see. */
const PROGRAM = `process.on('message', ({ kind }) => {
  if (kind === 'start') process.send({ kind: 'listening', port: 1502, says: 'listening' });
  if (kind === 'stop') process.exit(0);
});`;

it('a process that cannot be started is told and started later', async () => {
  refusals.left = 2;
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-host-'));
  writeFileSync(join(folder, 'program.mjs'), PROGRAM);
  const errors: string[] = [];
  const host = new ServerHost<unknown>({
    ...{ name: 'Modbus TCP', program: pathToFileURL(join(folder, 'program.mjs')), settings: {} },
    ...{ memoryMbMax: 64, board: new NewsBoard() },
    ...{ isReady: () => true, isLoaded: () => true, revision: () => '0a', clockOffsetMs: () => 0 },
    answer: () => Promise.resolve(null),
    log: { info: () => undefined, warn: () => undefined, error: (_facts, said) => errors.push(said) },
  });
  const fault = 'its process cannot be started (spawn EAGAIN)';
  expect(host.status()).toMatchObject({ state: 'waiting', port: null, pid: null, fault });
  await expect.poll(() => host.status().state, { timeout: 20_000 }).toBe('listening');
  expect(host.status()).toMatchObject({ port: 1502, restarts: 2, fault: '' });
  expect(errors).toEqual(
    Array.from(
      { length: 2 },
      () => `Modbus TCP does not serve: ${fault}. It is started again; intake goes on`,
    ),
  );
  await host.stop();
  rmSync(folder, { recursive: true, force: true });
});
