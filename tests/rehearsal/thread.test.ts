/** The thread of a rehearsal in a gateway as it is built: cancelled half way, then to its end. Needs the build. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { rehearsalBody, type RehearsalBody } from '../../src/api/rehearsal-bodies.js';
import { sleep } from '../support/child.js';
import { startGatewayProcess } from '../support/gateway-process.js';
import { writeMinuteStore } from '../support/minute-store.js';
import { BEGIN, writePlant } from './plants.js';

const folder = mkdtempSync(join(tmpdir(), 'rehearsal-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

it('is cancelled by DELETE while it plays, and the next one comes to its end', async () => {
  const [configFile, dataDir] = [join(folder, 'plant.yaml'), join(folder, 'data')];
  writeFileSync(configFile, writePlant());
  mkdirSync(dataDir);
  writeMinuteStore(dataDir, {
    sensors: ['pump-1/de', 'pump-2/de'].map((sensor) => ({ sensor, at: () => 40 })),
    ...{ from: BEGIN, hours: 90 * 24, seed: 2 },
  });
  const gateway = await startGatewayProcess({ configFile, dataDir });
  const ask = async (method: string, path: string, body?: object): Promise<RehearsalBody> => {
    const response = await fetch(`${gateway.http}/api/v1/rehearsals${path}`, {
      method,
      ...(body === undefined
        ? {}
        : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
    });
    return rehearsalBody.parse(await response.json());
  };
  const waitFor = async (id: string, holds: (job: RehearsalBody) => boolean): Promise<RehearsalBody> => {
    for (const due = Date.now() + 60_000; Date.now() < due; await sleep(10)) {
      const job = await ask('GET', `/${id}`);
      if (holds(job)) return job;
    }
    throw new Error('it did not come true within a minute');
  };
  try {
    const wish = { configuration: writePlant({ setpointPerMin: 110 }), from: '0' };
    const first = await ask('POST', '', wish);
    await waitFor(first.id, ({ share }) => share > 0);
    expect(await ask('DELETE', `/${first.id}`)).toMatchObject({ state: 'cancelled', result: null });
    const second = await ask('POST', '', wish);
    const done = await waitFor(second.id, ({ state }) => state !== 'running');
    expect(done).toMatchObject({ state: 'done', share: 1, failure: null });
    expect(done.result!.to).toBe(new Date(BEGIN + 90 * 86_400_000).toISOString());
    expect(await ask('GET', `/${first.id}`)).toMatchObject({ state: 'cancelled' });
  } finally {
    await gateway.stop();
  }
});
