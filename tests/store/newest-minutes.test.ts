/** Minutes of running given back at start, from the rollups: the file gives what the store in memory gives, and no other. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import type { Minute } from '../../src/core/periods.js';
import { openState, RESTORE_REACH_MS } from '../../src/core/step.js';
import { openStore } from '../../src/store/store.js';
import { Hall } from '../support/alarm-hall.js';
import { binnedGroup } from '../support/plans.js';
import { commitBatch } from './store-rig.js';

const SENSOR = 'sump/de';
const HOUR_MS = 3_600_000;

let dir: string;
beforeEach(() => {
  dir = mkdtempSync(join(tmpdir(), 'tallypost-minutes-'));
});
afterEach(() => rmSync(dir, { recursive: true, force: true }));

/** Runs a few minutes in some hours, and stands for a night. */
function makeHall(): Hall {
  const plan = { dutyGroups: new Map([['pumps', binnedGroup('pumps')]]) };
  const hall = new Hall({ motors: ['sump'], plan, dutyGroup: 'pumps' });
  hall.pulses.set(SENSOR, 7);
  for (const [stands, runs] of [
    [20, 3],
    [57, 3],
    [40, 25],
    [600, 4],
    [3, 2],
  ] as const) {
    hall.standing.add('sump');
    hall.run(stands * 60).standing.delete('sump');
    hall.run(runs * 60);
  }
  return hall;
}

it('are the newest that ran before a time, with their bins', () => {
  const hall = makeHall();
  const store = openStore(dir);
  const state = openState(hall.plan, store.restore(hall.plan, RESTORE_REACH_MS));
  for (let i = 0; i < hall.facts.length; i += 500)
    commitBatch(store, hall.plan, state, hall.facts.slice(i, i + 500));
  const [file, memory] = [store.restore(hall.plan, RESTORE_REACH_MS), hall.store.restore()].map(
    ({ minutes }) => minutes,
  );
  const inOrder = (minutes: readonly Minute[]): Minute[] =>
    minutes.map((minute) => ({ ...minute, bins: minute.bins.toSorted((a, b) => (a.bin < b.bin ? -1 : 1)) }));
  for (let before = hall.now; before > hall.now - 14 * HOUR_MS; before -= 7 * 60_000 + 13_000) {
    for (const most of [1, 4, 20, 120]) {
      const expected = inOrder(memory!.before(SENSOR, before, most));
      expect(inOrder(file!.before(SENSOR, before, most))).toEqual(expected);
    }
  }
  const all = file!.before(SENSOR, hall.now, 120);
  expect(all.length).toBeGreaterThan(25);
  expect(all.every(({ bins }) => bins.length > 0)).toBe(true);
  expect(file!.before(SENSOR, hall.now - 40 * HOUR_MS, 120)).toEqual([]);
  expect(file!.before('sump/unheard', hall.now, 120)).toEqual([]);
  store.close();
});
