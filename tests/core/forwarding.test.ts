/**
 * Stories of the alarm that a sink is behind, a line a stretch of time: for how long new records wait for it, and whether
 * its receiver takes any; or for how long the gateway stands. No restart tells anything anew.
 */
import { describe, expect, it } from 'vitest';
import type { SinkStanding } from '../../src/core/facts.js';
import type { ForwardingAlarmPlan, Plan } from '../../src/core/plan.js';
import { openState } from '../../src/core/step.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan } from '../support/plans.js';

const T0 = 1_772_431_200_000;
const ID = 'gateway.historian-forwarding-behind';

const ALARM: ForwardingAlarmPlan = {
  ...{ id: ID, motor: 'gateway', alarm: 'historian-forwarding-behind', sensor: null, sink: 'historian' },
  ...{
    kind: 'forwarding-behind',
    limitMs: 900_000,
    deadbandMs: 300_000,
    onDelayMs: 60_000,
    offDelayMs: 120_000,
  },
  ...{ latching: false, priority: 'low', class: 'gateway', timeToRespondMs: null },
  ...{ consequence: '', action: '', rationale: '' },
};

function standing(change: Partial<SinkStanding>): SinkStanding {
  return {
    ...{ sink: 'historian', lagMs: 0, isTaking: true, waiting: 0, lastError: '', losesAt: null, ...change },
  };
}

class Scene {
  readonly store = new MemoryStore();
  now = T0;
  ran = 0;
  #state;

  constructor(readonly plan: Plan) {
    this.#state = openState(plan, null);
  }

  second(sinks: readonly SinkStanding[], plan = this.plan): void {
    this.now += 1_000;
    this.ran += 1;
    runBatch(plan, this.#state, this.store, [
      { kind: 'tick', now: this.now },
      { kind: 'forwarding', sinks },
    ]);
  }

  restart(plan = this.plan): void {
    this.#state = reopen(plan, this.store);
  }
}

/** In seconds of the time in which the gateway ran. */
function tell(story: string, restartEachS: number | null): string[] {
  const scene = new Scene(makePlan([motorPlan('pump')], [], { forwardingAlarms: [ALARM] }));
  const told: string[] = [];
  for (const line of story.trim().split('\n')) {
    const [amount, what, lag] = line.split('#')[0]!.trim().split(/\s+/) as [string, string, string?];
    if (what === 'stands') {
      scene.now += 1_000 * parseFloat(amount);
      scene.restart();
      continue;
    }
    for (let i = 0; i < parseFloat(amount); i++) {
      const before = scene.store.journal.length;
      scene.second([standing({ lagMs: 1_000 * Number(lag), isTaking: what === 'takes', waiting: 7 })]);
      for (const { to } of scene.store.journal.slice(before)) told.push(`${scene.ran}: ${to}`);
      if (restartEachS !== null && scene.ran % restartEachS === 0) scene.restart();
    }
  }
  return told;
}

describe.each([null, 1, 7, 45])(
  'limit 900 s, deadband 300 s, delays 60 s and 120 s, a restart each %s s',
  (each) => {
    it.each([
      ['at the limit it is in time', '200s takes 900', []],
      ['shorter than the on-delay', '59s takes 901 \n 1s takes 900 \n 59s takes 901', []],
      ['longer than the on-delay', '70s fails 901', ['61: unacknowledged']],
      ['inside the deadband it stands', '70s takes 901 \n 900s takes 700', ['61: unacknowledged']],
      [
        'below the deadband for the off-delay it returns',
        '70s takes 901 \n 100s takes 600 \n 10s takes 601 \n 130s takes 600',
        ['61: unacknowledged', '301: returned-unacknowledged'],
      ],
      ['a receiver that takes nothing ends nothing', '70s fails 901 \n 900s fails 0', ['61: unacknowledged']],
      ['time in which the gateway stands is no delay', '40s fails 901 \n 3600s stands \n 18s fails 901', []],
      [
        'nor does it end anything',
        '70s fails 901 \n 100s takes 0 \n 3600s stands \n 18s takes 0',
        ['61: unacknowledged'],
      ],
    ])('%s', (_, story, told) => {
      expect(tell(story, each)).toEqual(told);
    });
  },
);

it('says which sink, since when, why, how much waits, and from when on some would be given up', () => {
  const scene = new Scene(
    makePlan([motorPlan('pump')], [], { forwardingAlarms: [{ ...ALARM, onDelayMs: 0 }] }),
  );
  const lagMs = 1_200_000;
  scene.second([
    standing({
      lagMs,
      isTaking: false,
      waiting: 1_234,
      lastError: 'the broker\n refused',
      losesAt: T0 + 86_400_000,
    }),
  ]);
  expect(scene.store.journal.at(-1)!.evidence!.says).toBe(
    'sink historian: new records have waited for 20 min, since 2026-03-02 05:40 UTC; 1234 records wait; the reason it gave last: the broker refused; the oldest of it would be given up from about 2026-03-03 06:00 UTC on',
  );
});

it('tells of each sink by itself, and stands no more when the configuration names its sink no more', () => {
  const other = {
    ...ALARM,
    id: 'gateway.lake-forwarding-behind',
    alarm: 'lake-forwarding-behind',
    sink: 'lake',
  };
  const alarms = [ALARM, other].map((one) => ({ ...one, onDelayMs: 0 }));
  const scene = new Scene(makePlan([motorPlan('pump')], [], { forwardingAlarms: alarms }));
  const late = { lagMs: 1_000_000, isTaking: false };
  scene.second([standing(late), standing({ sink: 'lake' })]);
  scene.second([standing(late), standing({ ...late, sink: 'lake' })]);
  expect(scene.store.journal.map(({ subject, to }) => [subject, to])).toEqual([
    [ID, 'unacknowledged'],
    [other.id, 'unacknowledged'],
  ]);
  const smaller = { ...scene.plan, forwardingAlarms: alarms.slice(1) };
  scene.restart(smaller);
  scene.second([standing({ ...late, sink: 'lake' })], smaller);
  expect(scene.store.journal.at(-1)).toMatchObject({ subject: ID, to: 'suppressed-by-design' });
});
