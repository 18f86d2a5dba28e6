/** A group learns its edges: in its first week everything is in the bin `learning`, then the journal says what it found. */
import { expect, it } from 'vitest';
import type { Fact } from '../../src/core/facts.js';
import { openState } from '../../src/core/step.js';
import { Class } from '../../src/core/words.js';
import { findUnbinned } from '../support/final.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const START = 1_700_000_400_000 - (1_700_000_400_000 % 3_600_000);
const MINUTE = 60_000;
const DAYS = 7.25;

/** A reading a minute and a drive message each ten, which runs at 900, 1200 and 1500 rpm in turn. */
function week(): Fact[] {
  const facts: Fact[] = [];
  for (let i = 0; i < DAYS * 1440; i++) {
    const at = START + i * MINUTE;
    facts.push({ kind: 'tick', now: at });
    if (i % 10 === 0) {
      facts.push({
        ...{
          kind: 'drive',
          motor: 'mill',
          state: 'running',
          modulating: true,
          at,
          since: START,
          receivedAt: at,
        },
        ...{
          speedRpm: 900 + 300 * (Math.floor(i / 60) % 3),
          loadPct: null,
          switchingKhz: null,
          dcLinkV: null,
        },
      });
    }
    facts.push({
      ...{ kind: 'reading', sensor: 'mill/de', device: 'SN', count: 5 * i, at, seq: i, boot: 1, upMs: null },
      ...{ temperatureC: 40, check: false, receivedAt: at },
    });
  }
  return facts;
}

function run(restarts: boolean): MemoryStore {
  const axis = { axis: 'speed', edges: null, deadband: 0, learn: 3, learnSince: null } as const;
  const sensor = sensorPlan('mill', 'de', { intervalMs: MINUTE, reorderWaitMs: 65_000 });
  const plan = makePlan([motorPlan('mill', { dutyGroup: 'mills' })], [sensor], {
    dutyGroups: new Map([['mills', { key: 'mills', axes: [axis] }]]),
  });
  const store = new MemoryStore();
  let state = openState(plan, null);
  const facts = week();
  for (let i = 0; i < facts.length; i += 700) {
    runBatch(plan, state, store, facts.slice(i, i + 700));
    if (restarts) state = reopen(plan, store);
  }
  return store;
}

it(
  'edges are learnt from the first week, and are in force from the next full hour on',
  { timeout: 60_000 },
  () => {
    const store = run(false);
    const said = store.journal.filter((entry) => entry.to === 'learnt');
    expect(said).toHaveLength(1);
    expect(said[0]).toMatchObject({ subject: 'mills', kind: 'notice', from: 'learning' });
    expect(said[0]!.text).toMatch(/^condition bins from 1\d\d running hours of 1 motor: speed at \d+, \d+ /);
    const [low, high] = /speed at (\d+), (\d+)/.exec(said[0]!.text)!.slice(1).map(Number) as [number, number];
    expect([low > 900 && low < 1200, high > 1200 && high < 1500]).toEqual([true, true]);
    const from = Math.floor(said[0]!.detectedAt / 3_600_000) * 3_600_000 + 3_600_000;
    const ran = store.sortedIncrements('mill/de').filter((row) => row.class === Class.running);
    expect(new Set(ran.filter((row) => row.to <= from).map((row) => row.bin))).toEqual(new Set(['learning']));
    const after = new Set(ran.filter((row) => row.from >= from).map((row) => row.bin));
    after.delete('mixed');
    expect([...after].sort()).toEqual([`speed ..${low}`, `speed ${low}..${high}`, `speed ${high}..`].sort());
    expect(findUnbinned(store, true)).toEqual([]);
    const again = run(true);
    expect(again.journal.filter((entry) => entry.to === 'learnt')).toEqual(said);
    expect(again.sortedIncrements('mill/de')).toEqual(store.sortedIncrements('mill/de'));
    expect([...again.spreads.values()]).toEqual([...store.spreads.values()]);
  },
);
