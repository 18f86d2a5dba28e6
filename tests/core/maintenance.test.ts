/** What people enter goes through the core: numbered, journalled, kept over restarts, withdrawn at most once. */
import { beforeEach, describe, expect, it } from 'vitest';
import type { ActionFact, Fact, FindingFact, WithdrawFact } from '../../src/core/facts.js';
import { openState, type CoreState } from '../../src/core/step.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const NOW = 1_700_000_000_000;
const DAY_MS = 86_400_000;
const plan = makePlan([motorPlan('pump-1'), motorPlan('pump-2')], [sensorPlan('pump-1', 'de')]);

const regreased: ActionFact = {
  kind: 'action',
  motor: 'pump-1',
  action: 'regreased',
  end: 'de',
  bearing: null,
  breaks: 'motor',
  at: NOW - 3 * DAY_MS,
  by: 'J. Field',
  note: '20 g',
  says: 'regreased, drive end: 20 g',
  receivedAt: NOW,
};
const fluted: FindingFact = {
  kind: 'finding',
  motor: 'pump-1',
  end: 'de',
  removed: true,
  modes: ['current-leakage-erosion'],
  signs: ['fluting'],
  lubricant: [],
  at: NOW - DAY_MS,
  by: 'J. Field',
  note: '',
  says: 'current leakage erosion; visible signs: fluting',
  receivedAt: NOW + 1000,
};
const withdrawal: WithdrawFact = {
  kind: 'withdraw',
  of: 'action',
  motor: 'pump-1',
  id: 1,
  by: 'K. Desk',
  note: 'wrong motor',
  receivedAt: NOW + 2000,
};

let store: MemoryStore;
let state: CoreState;
const put = (...facts: Fact[]): void => runBatch(plan, state, store, facts);
beforeEach(() => {
  store = new MemoryStore();
  state = openState(plan, null);
});

describe('an action', () => {
  it('is stored as it was entered, and journalled at the time it is about', () => {
    put(regreased);
    expect([...store.actions.values()]).toEqual([
      {
        ...{ id: 1, motor: 'pump-1', action: 'regreased', end: 'de', bearing: null, breaks: 'motor' },
        ...{ at: NOW - 3 * DAY_MS, enteredAt: NOW, by: 'J. Field', note: '20 g', withdrawn: null },
      },
    ]);
    expect(store.journal).toMatchObject([
      {
        ...{ kind: 'operator', subject: 'pump-1', at: regreased.at, detectedAt: NOW },
        ...{ to: 'regreased', who: 'J. Field', text: 'regreased, drive end: 20 g' },
      },
    ]);
  });

  it('is withdrawn with who and why, once; nothing else of it changes', () => {
    put(regreased);
    const before = store.actions.get(1);
    put(withdrawal);
    put({ ...withdrawal, by: 'M. Late' });
    expect(store.actions.get(1)).toEqual({
      ...before,
      withdrawn: { at: NOW + 2000, by: 'K. Desk', note: 'wrong motor' },
    });
    expect(store.journal.map(({ to, text }) => [to, text])).toEqual([
      ['regreased', 'regreased, drive end: 20 g'],
      ['withdrawn', 'entry 1: wrong motor'],
    ]);
    expect([...store.diagnostics]).toEqual([['withdrawn-already', 1]]);
  });
});

describe('entries', () => {
  it('of both kinds are numbered in one row, over restarts too', () => {
    put(regreased);
    put(fluted);
    state = reopen(plan, store);
    put(regreased);
    expect([...store.actions.keys()]).toEqual([1, 3]);
    expect([...store.findings.keys()]).toEqual([2]);
    expect(store.findings.get(2)).toMatchObject({ removed: true, signs: ['fluting'], lubricant: [] });
  });

  it('are withdrawn after a restart as before it', () => {
    put(regreased, fluted);
    state = reopen(plan, store);
    put({ ...withdrawal, of: 'finding', id: 2 });
    expect(store.findings.get(2)?.withdrawn?.by).toBe('K. Desk');
    state = reopen(plan, store);
    put({ ...withdrawal, of: 'finding', id: 2 });
    expect([...store.diagnostics]).toEqual([['withdrawn-already', 1]]);
  });

  it.each([
    ['of another motor', { motor: 'pump-2' }],
    ['of the other kind', { of: 'finding' as const }],
    ['that never was', { id: 7 }],
  ])('a withdrawal of one %s changes nothing', (_, change) => {
    put(regreased);
    put({ ...withdrawal, ...change });
    expect(store.actions.get(1)?.withdrawn).toBeNull();
    expect(store.journal).toHaveLength(1);
    expect([...store.diagnostics]).toEqual([['no-such-entry', 1]]);
  });

  it('move no count and no clock', () => {
    const outs: number[] = [];
    runBatch(plan, state, store, [regreased, fluted], (out) => {
      outs.push(out.increments.length, out.rollups.length, out.checkpoints.length, out.needs.length);
    });
    expect(outs).toEqual([0, 0, 0, 0]);
    expect(state.now).toBe(0);
  });
});
