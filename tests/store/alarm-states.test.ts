/**
 * Every state that an alarm can be in, through the store's file and a restart: nothing is told anew, nothing is lost, shelves
 * go on and end at their time.
 */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { AlarmRecord, JournalEntry } from '../../src/core/alarm-rows.js';
import { openStore } from '../../src/store/store.js';
import { HOUR_MS, NOW, tryEverything } from '../support/alarm-states.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import { makeFolder, outputs } from './sample-rows.js';
import { commitBatch, restoreState, withReader } from './store-rig.js';

const plan = makePlan([motorPlan('pump')], [sensorPlan('pump', 'de')]);

/** Each record an alarm of its own, all of one store. */
const records: AlarmRecord[] = tryEverything('rate-high').records.map((record, i) => ({
  ...record,
  ...{ id: `pump.de-${i}`, alarm: `de-${i}`, kind: 'test' },
}));

let folder: { dir: string; remove: () => void };
beforeEach(() => (folder = makeFolder()));
afterEach(() => folder.remove());

function keepAll(): void {
  const store = openStore(folder.dir);
  store.begin();
  store.apply(outputs({ alarms: records }));
  store.commit();
  store.close();
}

const readAll = (): Map<string, AlarmRecord> =>
  withReader(folder.dir, (reader) => new Map(reader.alarms().map((record) => [record.id, record])));
const readJournal = (): JournalEntry[] =>
  withReader(folder.dir, (reader) => [
    ...reader.journal({ from: null, to: null, limit: 1_000_000, cursor: null }).items,
  ]);

/** Restarts once, and lets the first ticks pass. Suppression is the design's, which these records are no part of. */
function live(...ticks: number[]): void {
  const store = openStore(folder.dir);
  const state = restoreState(store, plan);
  state.suppressionAt = Number.MAX_SAFE_INTEGER;
  for (const now of ticks) commitBatch(store, plan, state, [{ kind: 'tick', now }]);
  store.close();
}

describe(`${records.length} alarms, each in another state`, () => {
  it('are after three restarts what they were, and nobody is told of anything', () => {
    keepAll();
    for (let i = 1; i <= 3; i++) live(NOW + i * 1000, NOW + i * 1000 + 500);
    const kept = readAll();
    for (const record of records) expect(kept.get(record.id)).toEqual(record);
    expect(readJournal()).toEqual([]);
  });

  it('have their shelves ended by the first tick after an outage, each at its time, and tell what came up under them', () => {
    keepAll();
    live(NOW + 1000);
    live(NOW + 48 * HOUR_MS);
    const shelved = records.filter(({ shelvedUntil }) => shelvedUntil !== null);
    // so many at once are a flood, which the journal says as well
    const entries = readJournal().filter(({ subject }) => subject !== 'site');
    expect(entries).toHaveLength(shelved.length);
    const byId = new Map(entries.map((entry) => [entry.subject, entry]));
    for (const record of shelved) {
      const entry = byId.get(record.id)!;
      const { shelvedUntil: at, active, acknowledged, annunciatedAt } = record;
      expect(entry).toMatchObject({
        at,
        detectedAt: NOW + 48 * HOUR_MS,
        what: 'shelf-expired',
        from: record.state,
      });
      const isFree = !record.outOfService && record.suppressedBy === null && record.groupedUnder === null;
      expect(entry.annunciated).toBe(isFree && active && !acknowledged && annunciatedAt === null);
    }
    for (const record of readAll().values()) expect(record.shelvedUntil).toBeNull();
    const times = entries.map(({ at }) => at);
    expect(times).toEqual([...times].sort((a, b) => a - b));
  });
});

it('what no rule suppresses any more is set free by the first tick, and told if it stands', () => {
  keepAll();
  const store = openStore(folder.dir);
  const state = restoreState(store, plan);
  commitBatch(store, plan, state, [{ kind: 'tick', now: NOW + 1000 }]);
  store.close();
  const suppressed = records.filter(({ suppressedBy }) => suppressedBy !== null);
  const entries = readJournal().filter(({ subject }) => subject !== 'site');
  expect(entries).toHaveLength(suppressed.length);
  const told = new Set(entries.filter(({ annunciated }) => annunciated).map(({ subject }) => subject));
  const expected = suppressed.filter(
    (r) =>
      r.active &&
      !r.acknowledged &&
      r.annunciatedAt === null &&
      !r.outOfService &&
      r.shelvedUntil === null &&
      r.groupedUnder === null,
  );
  expect(told).toEqual(new Set(expected.map(({ id }) => id)));
});
