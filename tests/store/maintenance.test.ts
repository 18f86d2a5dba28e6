/** What people enter comes back as it was, in order of the time it is about, and an older store learns to hold it. */
import Database from 'better-sqlite3';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Finding, MaintenanceAction } from '../../src/core/maintenance-rows.js';
import { migrate } from '../../src/store/migration.js';
import { FILE_NAME } from '../../src/store/open.js';
import { findEntry } from '../../src/store/read-maintenance.js';
import { APPLICATION_ID, MIGRATIONS } from '../../src/store/schema.js';
import { openStore, type Store } from '../../src/store/store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';
import { balancedCounter, commit, makeFolder, outputs, START } from './sample-rows.js';
import { withReader } from './store-rig.js';

let folder: ReturnType<typeof makeFolder>;
let store: Store;
beforeEach(() => {
  folder = makeFolder();
  store = openStore(folder.dir);
});
afterEach(() => {
  store.close();
  folder.remove();
});

function action(id: number, some: Partial<MaintenanceAction> = {}): MaintenanceAction {
  return {
    ...{ id, motor: 'pump-1', action: 'bearing-replaced', end: 'both', bearing: 'hybrid', breaks: 'motor' },
    ...{ at: START, enteredAt: START + 5, by: 'J. Field', note: '"quoted", naïve', withdrawn: null },
    ...some,
  };
}

function finding(id: number, some: Partial<Finding> = {}): Finding {
  return {
    ...{ id, motor: 'pump-1', end: 'de', removed: true, modes: ['electrical-erosion'], signs: [] },
    ...{
      lubricant: ['burnt', 'dry'],
      at: START,
      enteredAt: START,
      by: 'J. Field',
      note: '',
      withdrawn: null,
    },
    ...some,
  };
}

const everything = { motor: null, from: null, to: null, limit: 100, cursor: null };
const plan = makePlan([motorPlan('pump-1')], [sensorPlan('pump-1', 'de')]);

describe('entries', () => {
  it('come back with all their fields, through readers and at a restart', () => {
    const actions = [action(1), action(2, { end: null, bearing: null, action: 'regreased', at: START - 5 })];
    const findings = [finding(3), finding(4, { removed: false, modes: [], end: 'nde' })];
    commit(store, outputs({ actions, findings }));
    withReader(folder.dir, (reader) => {
      expect(reader.actions(everything).items).toEqual([actions[1], actions[0]]);
      expect(reader.findings(everything).items).toEqual(findings);
      expect(findEntry(reader, 2)).toEqual({ of: 'action', motor: 'pump-1' });
      expect(findEntry(reader, 3)).toEqual({ of: 'finding', motor: 'pump-1' });
      expect(findEntry(reader, 5)).toBeNull();
    });
    store.close();
    store = openStore(folder.dir);
    expect(store.restore(plan, 1000)).toMatchObject({ actions, findings });
  });

  it('put again change in nothing but their withdrawal', () => {
    commit(store, outputs({ actions: [action(1)], findings: [finding(2)] }));
    const withdrawn = { at: START + 9, by: 'K. Desk', note: 'wrong end' };
    commit(
      store,
      outputs({
        actions: [action(1, { note: 'rewritten', at: 0, withdrawn })],
        findings: [finding(2, { signs: ['fluting'], withdrawn })],
      }),
    );
    withReader(folder.dir, (reader) => {
      expect(reader.actions(everything).items).toEqual([action(1, { withdrawn })]);
      expect(reader.findings(everything).items).toEqual([finding(2, { withdrawn })]);
    });
  });

  it('come in pages, by motor and time, those of one instant too', () => {
    const rows = Array.from({ length: 9 }, (_, i) =>
      action(i + 1, { motor: i === 4 ? 'pump-2' : 'pump-1', at: START + Math.floor(i / 4) }),
    );
    commit(store, outputs({ actions: rows }));
    withReader(folder.dir, (reader) => {
      const ids: number[] = [];
      let cursor: string | null = null;
      do {
        const page = reader.actions({ ...everything, motor: 'pump-1', limit: 3, cursor });
        ids.push(...page.items.map(({ id }) => id));
        cursor = page.next;
      } while (cursor !== null);
      expect(ids).toEqual([1, 2, 3, 4, 6, 7, 8, 9]);
      const middle = reader.actions({ ...everything, from: START + 1, to: START + 2 });
      expect(middle.items.map(({ id }) => id)).toEqual([5, 6, 7, 8]);
    });
  });

  it('outlive everything that retention takes', () => {
    commit(store, balancedCounter(50));
    commit(store, outputs({ actions: [action(1, { at: 1000 })] }));
    const days = { incrementsDays: 1, minutesDays: 1, tenMinutesDays: 1, hoursDays: 1 };
    const retention = { ...days, journalDays: 1, quarantineDays: 1, drivesDays: 1 };
    while (store.retain(START + 900 * 86_400_000, retention) > 0);
    withReader(folder.dir, (reader) => expect(reader.actions(everything).items).toHaveLength(1));
  });
});

describe('a store of before', () => {
  it('is copied, then holds entries beside what it held', () => {
    const older = makeFolder();
    const db = new Database(join(older.dir, FILE_NAME));
    db.pragma(`application_id = ${APPLICATION_ID}`);
    migrate(db, older.dir, MIGRATIONS.slice(0, 1));
    db.prepare("INSERT INTO journal VALUES (1, 0, 0, 'gateway', 'gateway', '', '', '', 'kept', NULL)").run();
    db.close();
    const grown = openStore(older.dir);
    commit(grown, outputs({ actions: [action(1)] }));
    grown.close();
    withReader(older.dir, (reader) => {
      expect(reader.actions(everything).items).toEqual([action(1)]);
      expect(reader.journal(everything).items).toMatchObject([{ text: 'kept' }]);
    });
    expect(existsSync(join(older.dir, `tallypost-before-v${MIGRATIONS.length}.db`))).toBe(true);
    older.remove();
  });
});
