/** Floods of alarms, and deviations and interference of a zone: what is counted, grouped, or only noted. */
import { describe, expect, it } from 'vitest';
import { alarmOf, transition } from '../../src/core/alarm.js';
import type { AlarmRecord, Evidence } from '../../src/core/alarm-rows.js';
import { announceFact, closeAnnouncing, tickAlarms } from '../../src/core/announcing.js';
import type { DeviationAlarmPlan } from '../../src/core/plan.js';
import { emptyStep } from '../../src/core/new-state.js';
import type { CoreState } from '../../src/core/state.js';
import { conditionAlarm, Hall, TEXTS } from '../support/alarm-hall.js';

const MOTORS = Array.from({ length: 12 }, (_, i) => `fan-${i + 1}`);

function deviation(motor: string, change: Partial<DeviationAlarmPlan> = {}): DeviationAlarmPlan {
  return {
    ...{ id: `${motor}.de-rising`, motor, alarm: 'de-rising', sensor: `${motor}/de`, kind: 'rising' },
    ...{ factor: 1.25, setpointPerMin: null, deadbandShare: 0, onDelayMs: 0, offDelayMs: 0 },
    ...{ windowMs: 3_600_000, falseAlarmsPerMonth: 0.001, latching: false, priority: 'low', ...TEXTS },
    ...change,
  };
}

const evidence: Evidence = {
  ...{ from: 0, to: 0, pulses: 0, exposureMs: 0, ratePerMin: null, lowerPerMin: null, upperPerMin: null },
  ...{
    dispersion: 1,
    confidence: 0,
    setpointPerMin: null,
    deadbandPerMin: null,
    onDelayMs: 0,
    offDelayMs: 0,
  },
  ...{ strip: [], configuration: 'test', says: 'it has risen' },
};

/** Twelve fans in one hall, each with a deviation alarm that is raised and returned by hand. */
class Rising {
  readonly hall: Hall;
  readonly state: CoreState;
  readonly told: string[] = [];
  readonly words: string[] = [];

  constructor(change: Partial<DeviationAlarmPlan> = {}) {
    const deviationAlarms = MOTORS.map((motor) => deviation(motor, change));
    this.hall = new Hall({ motors: MOTORS, plan: { deviationAlarms, conditionAlarms: [] } }).run(60);
    this.state = this.hall.state;
  }

  step(seconds: number, act: () => void = () => undefined): this {
    for (let s = 0; s < seconds; s += 10) {
      emptyStep(this.state);
      this.state.now += 10_000;
      if (s + 10 >= seconds) act();
      tickAlarms(this.state);
      announceFact(this.state, true);
      closeAnnouncing(this.state);
      for (const entry of this.state.out.journal) {
        this.words.push(`${entry.subject} ${entry.what}`);
        if (entry.annunciated && entry.what !== 'returned') this.told.push(entry.subject);
      }
    }
    return this;
  }

  raise(seconds: number, ...motors: number[]): this {
    return this.step(seconds, () => {
      for (const n of motors)
        transition(this.state, this.record(n), {
          ...{ kind: 'raise', at: this.state.now, evidence, latching: false },
        });
    });
  }

  giveBack(seconds: number, ...motors: number[]): this {
    return this.step(seconds, () => {
      for (const n of motors)
        transition(this.state, this.record(n), { kind: 'return', at: this.state.now, evidence });
    });
  }

  record(n: number): AlarmRecord {
    return alarmOf(this.state, this.state.plan.deviationAlarms[n - 1]!);
  }
}

describe('deviations of a zone', () => {
  it('three motors within ten minutes are one alarm that names them; a fourth joins', () => {
    const rising = new Rising().raise(10, 1).raise(240, 2).raise(240, 3);
    expect(rising.told).toEqual(['zone-hall.zone-deviation']);
    rising.raise(60, 4).step(1200);
    expect(rising.told).toEqual(['zone-hall.zone-deviation']);
    const group = rising.state.alarms.get('zone-hall.zone-deviation')!;
    expect(group.evidence?.says).toMatch(/3 motors .*fan-1\/de rising, fan-2\/de rising, fan-3\/de rising/);
    for (const n of [1, 2, 3, 4])
      expect(rising.record(n)).toMatchObject({ groupedUnder: group.id, active: true });
  });

  it('two are told one by one, ten minutes after', () => {
    const rising = new Rising().raise(10, 1).raise(240, 2).step(300);
    expect(rising.told).toEqual([]);
    rising.step(400);
    expect(rising.told).toEqual(['fan-1.de-rising', 'fan-2.de-rising']);
  });

  it('three over an hour are three, and a later one is not swallowed by a group that still stands', () => {
    const rising = new Rising().raise(10, 1).raise(1200, 2).raise(1200, 3).step(1200);
    expect(rising.told).toEqual(['fan-1.de-rising', 'fan-2.de-rising', 'fan-3.de-rising']);
    const group = new Rising().raise(10, 1, 2, 3).raise(7200, 4).step(900);
    expect(group.told).toEqual(['zone-hall.zone-deviation', 'fan-4.de-rising']);
  });

  it('the group returns with the last of its members', () => {
    const rising = new Rising().raise(10, 1, 2, 3).giveBack(3600, 1, 2).step(3600);
    expect(rising.state.alarms.get('zone-hall.zone-deviation')?.active).toBe(true);
    rising.giveBack(10, 3).step(20);
    expect(rising.state.alarms.get('zone-hall.zone-deviation')?.active).toBe(false);
    expect(rising.told).toEqual(['zone-hall.zone-deviation']);
  });

  it('one that returns while it waits is entered, and nothing of it waits for a person', () => {
    const rising = new Rising().raise(10, 1).giveBack(120, 1).step(1200);
    expect(rising.told).toEqual([]);
    expect(rising.record(1).state).toBe('normal');
  });

  it('a high priority does not wait', () => {
    expect(new Rising({ priority: 'high' }).raise(10, 1).told).toEqual(['fan-1.de-rising']);
  });
});

describe('flood', () => {
  it('begins with more than ten in ten minutes, ends with fewer than five, and outlives a restart', () => {
    const hall = new Hall({
      motors: MOTORS,
      plan: { conditionAlarms: MOTORS.map((motor) => conditionAlarm(motor, 'de')) },
    }).run(600);
    const floods = (): string[] =>
      hall.store.journal.filter(({ subject }) => subject === 'site').map(({ what }) => what);
    hall.cut(MOTORS.slice(0, 10).map((motor) => `${motor}/de`)).run(400);
    expect(hall.told()).toHaveLength(10);
    expect(floods()).toEqual([]);
    hall.cut(['fan-11/de']).run(400);
    expect(floods()).toEqual(['flood-began']);
    const since = hall.state.alarming.floodSince;
    hall.restart(0);
    expect(hall.state.alarming.floodSince).toBe(since);
    hall.run(900);
    expect(floods()).toEqual(['flood-began', 'flood-ended']);
    expect(hall.state.alarming.floodSince).toBeNull();
  });

  it('one cause with many members is no flood', () => {
    const hall = new Hall({ motors: MOTORS }).run(600);
    hall.cut(hall.sensors).run(900);
    expect(hall.store.journal.some(({ what }) => what === 'flood-began')).toBe(false);
  });
});

describe('bursts on several motors at once', () => {
  it('a series raises one notice that nobody is told of; a single one nothing', () => {
    const hall = new Hall({ motors: MOTORS.slice(0, 4), plan: { conditionAlarms: [] } });
    const loud = (windows: number): void => {
      for (const sensor of hall.sensors) hall.pulses.set(sensor, 200);
      hall.run(10 * windows);
      for (const sensor of hall.sensors) hall.pulses.set(sensor, 1);
    };
    hall.run(1500);
    loud(6);
    hall.run(600);
    const notice = () => hall.store.alarms.get('zone-hall.zone-burst');
    expect(notice()).toBeUndefined();
    for (let i = 0; i < 3; i++) {
      loud(1);
      hall.run(890);
    }
    expect(notice()).toMatchObject({ active: true, state: 'acknowledged', annunciatedAt: null });
    expect(
      hall.store.journal.filter(({ kind }) => kind === 'notice').map(({ subject }) => subject),
    ).toContain('zone-hall.zone-burst');
    expect(hall.told()).toEqual([]);
    hall.run(4200);
    expect(notice()).toMatchObject({ active: false, state: 'normal' });
  });
});
