/** The desk: one at a time, cancelled at any moment, the newest few kept. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { RehearsalDesk, type RehearsalJob } from '../../src/rehearsal/desk.js';
import { writeMinuteStore } from '../support/minute-store.js';
import { BEGIN, planPlant } from './plants.js';

const folder = mkdtempSync(join(tmpdir(), 'rehearsal-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const plan = planPlant();
const wish = { running: plan, candidate: plan, from: 0, to: null };
beforeAll(() =>
  writeMinuteStore(folder, {
    sensors: [{ sensor: 'pump-1/de', at: () => 40 }],
    ...{ from: BEGIN, hours: 96, seed: 1 },
  }),
);

let clock = BEGIN;
function openDesk(dir = folder): RehearsalDesk {
  return new RehearsalDesk(dir, () => (clock += 1000));
}

async function waitFor(
  desk: RehearsalDesk,
  id: string,
  is: (job: RehearsalJob) => boolean,
): Promise<RehearsalJob> {
  for (let i = 0; i < 10_000; i++) {
    const job = desk.find(id)!;
    if (is(job)) return job;
    await new Promise((resolve) => setImmediate(resolve));
  }
  throw new Error(JSON.stringify(desk.find(id)));
}

it('plays one at a time, and tells how far it is', async () => {
  const desk = openDesk();
  const job = desk.begin(wish)!;
  expect(job).toMatchObject({ id: '1', state: 'running', share: 0, endedAt: null });
  expect(desk.begin(wish)).toBeNull();
  const half = await waitFor(desk, '1', ({ share }) => share > 0);
  expect(half).toMatchObject({ state: 'running' });
  expect(half.share).toBeLessThan(1);
  const done = await waitFor(desk, '1', ({ state }) => state !== 'running');
  expect(done).toMatchObject({ state: 'done', share: 1, failure: null });
  expect(done.result!.alarms.length).toBeGreaterThan(0);
  expect(done.endedAt!).toBeGreaterThan(done.startedAt);
  expect(desk.running()).toBeNull();
});

it('ends at once when it is cancelled, and takes the next one', async () => {
  const desk = openDesk();
  desk.begin(wish);
  await waitFor(desk, '1', ({ share }) => share > 0);
  expect(desk.cancel('1')).toMatchObject({ state: 'cancelled', result: null });
  const second = desk.begin(wish)!;
  await waitFor(desk, second.id, ({ state }) => state === 'done');
  expect(desk.find('1')).toMatchObject({ state: 'cancelled' });
  expect(desk.cancel(second.id)).toMatchObject({ state: 'done' });
  expect(desk.cancel('9')).toBeNull();
});

it('says what failed and what to do', async () => {
  const desk = openDesk(join(folder, 'nowhere'));
  desk.begin(wish);
  const { failure } = await waitFor(desk, '1', ({ state }) => state === 'failed');
  expect(failure!.message).toContain('there is no database');
  expect(failure!.hint).toContain('--data');
});

it('keeps the newest eight', async () => {
  const desk = openDesk(join(folder, 'nowhere'));
  for (let i = 1; i <= 10; i++) {
    const { id } = desk.begin(wish)!;
    await waitFor(desk, id, ({ state }) => state === 'failed');
  }
  expect(desk.list().map(({ id }) => id)).toEqual(['10', '9', '8', '7', '6', '5', '4', '3']);
});
