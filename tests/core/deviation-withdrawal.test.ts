/** Work that breaks comparability: what it ends, what of its own day is kept, and what comes back when its entry is withdrawn. */
import { describe, expect, it } from 'vitest';
import type { ActionKind } from '../../shared/maintenance-terms.js';
import { newAlarm } from '../../src/core/alarm.js';
import type { Fact } from '../../src/core/facts.js';
import type { DeviationAlarmPlan, DutyGroupPlan, Plan } from '../../src/core/plan.js';
import { openState, type CoreState } from '../../src/core/step.js';
import { MemoryStore, reopen, runBatch } from '../support/memory-store.js';
import { makePlan, motorPlan, sensorPlan } from '../support/plans.js';

const MINUTE_MS = 60_000;
const TEN_MIN_MS = 600_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
const START = Date.UTC(2026, 0, 5);
const SENSOR = 'mill/de';

function alarmPlan(kind: DeviationAlarmPlan['kind']): DeviationAlarmPlan {
  return {
    ...{ id: `mill.de-${kind}`, motor: 'mill', alarm: `de-${kind}`, sensor: SENSOR, kind },
    ...{ factor: 2, setpointPerMin: null, deadbandShare: 0.2, onDelayMs: HOUR_MS, offDelayMs: HOUR_MS },
    ...{ windowMs: TEN_MIN_MS, falseAlarmsPerMonth: 0.01, latching: false, priority: 'low' },
    ...{ consequence: '', action: '' },
    ...{ class: 'condition', timeToRespondMs: null, rationale: '' },
  };
}

function millPlan(change: Partial<Plan> = {}): Plan {
  const slow = { intervalMs: TEN_MIN_MS, reorderWaitMs: 5000 };
  return makePlan(
    [motorPlan('mill', { hasRunState: false, dutyGroup: 'mills' })],
    [sensorPlan('mill', 'de', slow)],
    { deviationAlarms: [alarmPlan('above-baseline'), alarmPlan('rising')], ...change },
  );
}

/** A mill that sends a reading every ten minutes; `restarts`: the gateway is restarted after every hour. */
class Mill {
  store = new MemoryStore();
  state: CoreState;
  at = START;
  /** the reading of this time is not sent, it waits in `held` */
  heldAt = 0;
  held: Fact | null = null;
  private count = 0;
  private seq = 0;

  constructor(
    private plan: Plan,
    private readonly restarts: boolean,
  ) {
    this.state = openState(plan, null);
  }

  put(...facts: Fact[]): void {
    runBatch(this.plan, this.state, this.store, facts);
  }

  /** Runs until a time, in hours since the start, at so many pulses an hour. */
  run(untilH: number, perHour: number): void {
    while (this.at < START + untilH * HOUR_MS) {
      this.at += TEN_MIN_MS;
      this.count += Math.round(perHour / 6);
      const reading: Fact = {
        ...{ kind: 'reading', sensor: SENSOR, device: 'SN', count: this.count, at: this.at, boot: 1 },
        ...{ seq: this.seq++, upMs: null, temperatureC: null, check: false, receivedAt: this.at },
      };
      if (this.at === this.heldAt) this.held = reading;
      this.put({ kind: 'tick', now: this.at }, ...(this.at === this.heldAt ? [] : [reading]));
      this.put({ kind: 'tick', now: this.at + MINUTE_MS });
      if (this.restarts && this.at % HOUR_MS === 0) this.change(this.plan);
    }
  }

  /** The gateway is restarted, perhaps with another configuration. */
  change(plan: Plan): void {
    this.plan = plan;
    this.state = reopen(plan, this.store);
  }

  enter(atH: number, action: ActionKind = 'regreased'): void {
    this.put({
      ...{ kind: 'action', motor: 'mill', action, end: 'de', bearing: null, breaks: 'motor' },
      ...{ at: START + atH * HOUR_MS, by: 'J. Field', note: '', says: '', receivedAt: this.at },
    });
  }

  withdraw(id: number): void {
    this.put({
      ...{ kind: 'withdraw', of: 'action', motor: 'mill', id, by: 'J. Field', note: 'wrong motor' },
      receivedAt: this.at,
    });
  }

  get watch() {
    return this.state.sensors.get(SENSOR)!.watch;
  }

  /** Hours since the start, sums by day, and yardsticks. */
  learnt() {
    const { baseline, days } = this.watch;
    return {
      since: baseline.since === 0 ? 0 : (baseline.since - START) / HOUR_MS,
      days: days.map(({ start, cells }) => [
        (start - START) / DAY_MS,
        (cells.get('all')?.pulses ?? 0) / 60,
        (cells.get('all')?.ms ?? 0) / HOUR_MS,
      ]),
      yardsticks: [...baseline.yardsticks].map(([bin, { pulses, ms }]) => [bin, pulses, ms]),
    };
  }

  told(kind: string): string[] {
    return this.store.journal.filter(({ subject }) => subject === `mill.de-${kind}`).map(({ to }) => to);
  }
}

describe.each([false, true])('with restarts: %s', (restarts) => {
  it('work entered later keeps the hours after it, of its own day too', () => {
    const mill = new Mill(millPlan(), restarts);
    mill.run(54, 60);
    mill.enter(30);
    expect(mill.learnt()).toMatchObject({
      since: 30,
      days: [
        [1, 18, 18],
        [2, 6, 6],
      ],
    });
    mill.run(60, 60);
    expect(mill.learnt()).toMatchObject({
      since: 30,
      days: [
        [1, 18, 18],
        [2, 12, 12],
      ],
    });
  });

  it('what was counted before work counts again when its entry is withdrawn, as if it had never been entered', () => {
    const [mill, other] = [new Mill(millPlan(), restarts), new Mill(millPlan(), restarts)];
    for (const one of [mill, other]) one.run(9 * 24, 60);
    mill.enter(8 * 24 + 5);
    expect(mill.learnt().yardsticks).toEqual([]);
    for (const one of [mill, other]) one.run(11 * 24, 60);
    mill.withdraw(1);
    expect(mill.learnt()).toEqual(other.learnt());
    expect(mill.learnt().yardsticks).toHaveLength(1);
    for (const one of [mill, other]) one.run(12 * 24, 60);
    expect(mill.learnt()).toEqual(other.learnt());
    expect(mill.store.journal.map(({ to }) => to)).toContain('baseline-resumed');
  });

  it('of two entries each is withdrawn by itself, in either order; one that stands still breaks', () => {
    for (const order of [
      [1, 2],
      [2, 1],
    ] as const) {
      const [mill, other] = [new Mill(millPlan(), restarts), new Mill(millPlan(), restarts)];
      for (const one of [mill, other]) one.run(48, 60);
      mill.enter(30);
      mill.enter(40, 'bearing-replaced');
      for (const one of [mill, other]) one.run(72, 60);
      mill.withdraw(order[0]);
      expect(mill.learnt().since).toBe(order[0] === 1 ? 40 : 30);
      mill.withdraw(order[1]);
      expect(mill.learnt()).toEqual(other.learnt());
    }
  });

  it('work that was entered after a later one counts once the later one is withdrawn', () => {
    const mill = new Mill(millPlan(), restarts);
    mill.run(48, 60);
    mill.enter(40);
    mill.enter(30, 'bearing-replaced');
    expect(mill.learnt().since).toBe(40);
    mill.withdraw(1);
    expect(mill.learnt()).toMatchObject({ since: 30 });
  });

  it('a remedy explains silence no more when it is withdrawn', () => {
    const mill = new Mill(millPlan(), restarts);
    mill.run(24, 60);
    mill.enter(10);
    mill.enter(20);
    mill.withdraw(2);
    expect(mill.watch.remedyAt).toBe(START + 10 * HOUR_MS);
    mill.withdraw(1);
    expect(mill.watch.remedyAt).toBe(0);
  });

  it('a late difference between two days goes to the part that its hour counts in', () => {
    const [mill, other] = [new Mill(millPlan(), restarts), new Mill(millPlan(), restarts)];
    for (const one of [mill, other]) {
      one.heldAt = START + 24 * HOUR_MS;
      one.run(26, 60);
      if (one === mill) one.enter(25);
      one.run(27, 60);
      one.put(one.held!);
      one.run(29, 60);
    }
    mill.withdraw(1);
    expect(mill.learnt()).toEqual(other.learnt());
  });
});

it('work entered so late that its day is not known by the hour begins with the next day', () => {
  const mill = new Mill(millPlan(), false);
  mill.run(7 * 24, 60);
  mill.enter(30);
  expect(mill.learnt()).toMatchObject({ since: 48 });
  expect(mill.learnt().days.map(([day]) => day)).toEqual([2, 3, 4, 5, 6]);
  mill.withdraw(1);
  expect(mill.learnt().days[1]).toEqual([1, 24, 24]);
});

describe('an alarm whose yardstick is gone', () => {
  const raised = (plan: Plan): Mill => {
    const mill = new Mill(plan, false);
    mill.run(9 * 24, 60);
    mill.run(9 * 24 + 4, 600);
    expect(mill.told('above-baseline')).toEqual(['unacknowledged']);
    return mill;
  };

  it('returns when the yardstick is too old, and its evidence says so and claims nothing', () => {
    const mill = raised(millPlan({ baseline: { ageMaxMs: 3.5 * DAY_MS, unvisitedMaxMs: 120 * DAY_MS } }));
    mill.run(10 * 24 + 12, 600);
    expect(mill.told('above-baseline')).toEqual(['unacknowledged', 'returned-unacknowledged']);
    const { evidence } = mill.store.alarms.get('mill.de-above-baseline')!;
    expect(evidence).toMatchObject({ ratePerMin: null, dispersion: null, confidence: null });
    expect(evidence!.says).toMatch(/^mill\/de has no yardstick any more \(all\): whether it still/);
  });

  it('stands while a yardstick can still judge it', () => {
    const mill = raised(millPlan());
    mill.run(12 * 24, 600);
    expect(mill.told('above-baseline')).toEqual(['unacknowledged']);
  });

  it('returns, and the yardstick is forgotten, when other edges leave no bin of its name', () => {
    const mill = raised(millPlan());
    const axes: DutyGroupPlan['axes'] = [
      { axis: 'temperature', edges: [40], deadband: 0, learn: 0, learnSince: null },
    ];
    mill.change(millPlan({ dutyGroups: new Map([['mills', { key: 'mills', axes }]]) }));
    mill.run(11 * 24, 600);
    expect(mill.told('above-baseline')).toEqual(['unacknowledged', 'returned-unacknowledged']);
    expect([...mill.watch.baseline.yardsticks.keys()]).not.toContain('all');
    expect(mill.store.journal.map(({ to }) => to)).toContain('baseline-forgotten');
  });
});

it('a timer of a condition alarm that stood is told without figures that nobody found', () => {
  const alarm = {
    ...{ id: 'mill.de-no-readings', motor: 'mill', alarm: 'de-no-readings', sensor: SENSOR },
    ...{
      kind: 'no-readings' as const,
      onDelayMs: 0,
      offDelayMs: 0,
      latching: false,
      priority: 'low' as const,
    },
    ...{ consequence: '', action: '' },
    ...{ class: 'condition', timeToRespondMs: null, rationale: '' },
  };
  const mill = new Mill(millPlan({ conditionAlarms: [alarm] }), false);
  mill.store.alarms.set(alarm.id, newAlarm(alarm));
  mill.put({ kind: 'tick', now: START + DAY_MS });
  expect(mill.store.alarms.get(alarm.id)!.evidence).toMatchObject({ dispersion: null, confidence: null });
});
