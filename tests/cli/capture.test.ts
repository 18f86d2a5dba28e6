/** `tallypost capture` where it cannot listen. */
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Exit } from '../../src/cli/command.js';
import { runTallypost } from './recorder.js';

const dir = mkdtempSync(join(tmpdir(), 'tallypost-capture-'));
const config = join(dir, 'plant.yaml');
const taken: Server = createServer();
let port = 0;

beforeAll(async () => {
  await new Promise<void>((resolve) => taken.listen(0, '127.0.0.1', resolve));
  port = (taken.address() as AddressInfo).port;
  writeFileSync(config, 'site: works\nmotors:\n  pump-{1..4}: { positions: { de: {} } }\n');
});
afterAll(() => {
  taken.close();
  rmSync(dir, { recursive: true, force: true });
});

const capture = (out: string) =>
  runTallypost('capture', '--config', config, '--mqtt', `127.0.0.1:${port}`, '--seconds', '1', out);

it.each(['morning.ndjson', 'morning.ndjson.gz'])('a taken port leaves no %s behind', async (name) => {
  const out = join(dir, name);
  const { code, err } = await capture(out);
  expect([code, err]).toEqual([Exit.failure, expect.stringContaining(String(port))]);
  expect(existsSync(out)).toBe(false);
});

it('a file that was there before stays as it was', async () => {
  const out = join(dir, 'yesterday.ndjson');
  writeFileSync(out, 'what was captured yesterday');
  expect((await capture(out)).code).toBe(Exit.failure);
  expect(readFileSync(out, 'utf8')).toBe('what was captured yesterday');
});
