/** What the page says of alarms and strips, without a browser. */
import { describe, expect, it } from 'vitest';
import { ALARM_KINDS, NOTICE_KINDS } from '../../shared/alarm-terms.js';
import { isNotice as isCoreNotice } from '../../src/core/alarm-kinds.js';
import { actsFor } from '../../src/page/acts/alarm-acts.js';
import { beginTurn, endTurn, hearAlarm, NO_CHANGES } from '../../src/page/alarms/alarm-changes.js';
import { makeScale, placeRunStates } from '../../src/page/alarms/evidence-geometry.js';
import { placeActivations, placeTicks } from '../../src/page/alarms/outcome-geometry.js';
import { nameWork } from '../../src/page/compare/work-words.js';
import type { AlarmBody, RateBody } from '../../src/page/data/bodies.js';
import { sayActs, sayState } from '../../src/page/parts/alarm-text.js';
import { isShown, orderAlarms } from '../../src/page/parts/alarm-words.js';
import { addWindow, type DayStrip } from '../../src/page/parts/day-strips.js';
import { describeStrip, heightOf } from '../../src/page/parts/strip-picture.js';

const AT = Date.UTC(2026, 2, 3, 12, 0, 0);

const alarm: AlarmBody = {
  ...{
    id: 'pump-1.de-rate-high',
    motor: 'pump-1',
    alarm: 'de-rate-high',
    sensor: 'pump-1/de',
    kind: 'rate-high',
  },
  ...{
    priority: 'low',
    state: 'unacknowledged',
    active: true,
    acknowledged: false,
    confirmed: false,
    latched: false,
  },
  ...{ shelved_until: null, shelved_once: false, shelved_by: '', shelved_why: '', suppressed_by: null },
  ...{
    out_of_service: false,
    out_of_service_by: '',
    out_of_service_why: '',
    held_by: null,
    grouped_under: null,
  },
  ...{
    annunciated_at: null,
    since: new Date(AT).toISOString(),
    acknowledged_by: '',
    confirmed_by: '',
    note: '',
  },
  ...{ consequence: '', action: '', rationale: '', class: '', time_to_respond_ms: null, evidence: null },
};

describe('an alarm in words', () => {
  it('a member of a group is not called acknowledged, and why an alarm is held is said', () => {
    const member: AlarmBody = {
      ...alarm,
      ...{
        state: 'acknowledged',
        acknowledged: true,
        grouped_under: 'zone-hall.zone-silent',
        held_by: 'no-readings',
      },
    };
    expect(sayState(member)).toBe('there, in a group');
    expect(sayActs(member, AT, 'UTC')).toEqual([
      'zone-hall.zone-silent stands for it.',
      'Held: its sensor sends nothing.',
    ]);
  });

  it('who shelved it, until when in the zone of the site, and why is said once', () => {
    const shelved: AlarmBody = {
      ...alarm,
      ...{ state: 'shelved', shelved_until: '2026-03-03T16:30:00.000Z', shelved_by: 'K. Wren' },
      ...{ shelved_why: 'being worked on', note: 'being worked on' },
    };
    expect(sayActs(shelved, AT, 'Asia/Kathmandu')).toEqual([
      'Shelved until 22:15 GMT+5:45 by K. Wren: being worked on.',
    ]);
  });

  it('a notice is none of the alarms that are answered, and page and core know the same notices', () => {
    const notice: AlarmBody = {
      ...alarm,
      kind: 'zone-burst',
      state: 'acknowledged',
      acknowledged: true,
      confirmed: true,
    };
    expect(isShown(notice)).toBe(false);
    expect(sayState(notice)).toContain('asks nothing');
    expect(actsFor(notice)).toEqual(['shelve', 'out-of-service']);
    for (const kind of NOTICE_KINDS) expect(isCoreNotice(kind)).toBe(true);
    for (const kind of Object.keys(ALARM_KINDS)) expect(isCoreNotice(kind)).toBe(NOTICE_KINDS.includes(kind));
  });

  it('only what applies is offered, the likeliest first', () => {
    expect(actsFor(alarm)).toEqual(['acknowledge', 'shelve', 'out-of-service']);
    expect(actsFor({ ...alarm, acknowledged: true, state: 'acknowledged' })[0]).toBe('confirm');
    const latched = { ...alarm, latched: true, active: false, acknowledged: true, confirmed: true };
    expect(actsFor({ ...latched, state: 'latched-acknowledged' })[0]).toBe('reset');
    expect(actsFor({ ...alarm, state: 'out-of-service', out_of_service: true })).toEqual([
      'return-to-service',
    ]);
  });

  it('what waits comes before what stands, then the priority decides, then the newest', () => {
    const make = (id: string, change: Partial<AlarmBody>): AlarmBody => ({ ...alarm, id, ...change });
    const ordered = orderAlarms([
      make('normal', { state: 'normal', active: false }),
      make('shelved', { state: 'shelved', priority: 'high' }),
      make('answered', { state: 'acknowledged', acknowledged: true, priority: 'high' }),
      make('old', { since: '2026-03-01T00:00:00.000Z' }),
      make('new', {}),
      make('medium', { priority: 'medium', since: '2026-01-01T00:00:00.000Z' }),
    ]);
    expect(ordered.map(({ id }) => id)).toEqual(['medium', 'new', 'old', 'answered', 'shelved', 'normal']);
  });
});

const STEP_MS = 1_200_000;
const strip: DayStrip = {
  from: AT,
  stepMs: STEP_MS,
  rates: [10, null, 6],
  states: 'rsr',
  last: { pulses: 60, ms: 600_000 },
};

function windowAt(start: number, running: number, ms: number): RateBody {
  const none = { pulses: 0, ms: 0 };
  const classes = {
    ...{ rejected: none, check: none, unattributed: none, transient: none, common: none },
    ...{ running: { pulses: running, ms }, background: { pulses: 0, ms: 10_000 - ms } },
  };
  return { window: { start: new Date(start).toISOString(), classes } } as unknown as RateBody;
}

describe('a strip that lives', () => {
  it('adds a window to its last stretch: sums first, divided last', () => {
    const added = addWindow(strip, windowAt(AT + 2 * STEP_MS + 600_000, 40, 10_000))!;
    expect(added.last).toEqual({ pulses: 100, ms: 610_000 });
    expect(added.rates[2]).toBeCloseTo((100 * 60_000) / 610_000, 10);
  });

  it('moves on with a window of the next stretch, and over a gap leaves silence, not zero', () => {
    const next = addWindow(strip, windowAt(AT + 3 * STEP_MS, 2, 10_000))!;
    expect([next.from, next.rates, next.states]).toEqual([AT + STEP_MS, [null, 6, 12], 'srr']);
    const later = addWindow(strip, windowAt(AT + 4 * STEP_MS, 0, 0))!;
    expect([later.rates, later.states]).toEqual([[6, null, null], 'r-s']);
    const muchLater = addWindow(strip, windowAt(AT + 90 * STEP_MS, 2, 10_000))!;
    expect([muchLater.rates, muchLater.states]).toEqual([[null, null, 12], '--r']);
  });

  it('lets go a window of the past', () => {
    expect(addWindow(strip, windowAt(AT + STEP_MS, 40, 10_000))).toBeNull();
  });

  it('zero has a height, and ten times the rate is never as high', () => {
    expect(heightOf(0, 100)).toBe(1);
    for (const rate of [0.2, 1, 5, 10])
      expect(heightOf(10 * rate, 100)).toBeGreaterThan(heightOf(rate, 100) + 5);
    expect(heightOf(1_000, 100)).toBe(heightOf(100, 100));
  });

  it('says in a sentence what it shows', () => {
    expect(describeStrip(strip, 'UTC')).toBe(
      'since 12:00: rate 6.00 to 10.0 a minute; running 0.7 h, stopped 0.3 h',
    );
  });
});

describe('evidence on a scale', () => {
  const evidence = {
    ...{ from: new Date(AT).toISOString(), to: new Date(AT + 600_000).toISOString(), pulses: 900 },
    ...{ exposure_ms: 600_000, rate_per_min: 90, lower_per_min: 84, upper_per_min: 96, dispersion: 1 },
    ...{ confidence: 0.95, setpoint_per_min: 60, deadband_per_min: 6, on_delay_ms: 0, off_delay_ms: 0 },
    ...{ configuration: 'abc', says: '' },
    run_states: [
      {
        from: new Date(AT - 60_000).toISOString(),
        to: new Date(AT + 300_000).toISOString(),
        state: 'running' as const,
      },
      {
        from: new Date(AT + 300_000).toISOString(),
        to: new Date(AT + 600_000).toISOString(),
        state: 'stopped' as const,
      },
    ].map((each) => ({ ...each, modulating: true })),
  };

  it('holds everything, from zero on, with ticks of a round step', () => {
    const scale = makeScale(evidence)!;
    expect(scale.place(0)).toBe(0);
    expect(scale.most).toBeGreaterThan(96);
    expect(scale.place(96)).toBeLessThan(1);
    expect(scale.ticks[0]).toBe(0);
    expect(scale.ticks.length).toBeLessThanOrEqual(7);
    const nothing = { rate_per_min: null, upper_per_min: null, setpoint_per_min: null };
    expect(makeScale({ ...evidence, ...nothing })).toBeNull();
  });

  it('has the run states in their places, cut to its time', () => {
    expect(placeRunStates(evidence)).toEqual([
      { x: 0, width: 0.5, state: 'running' },
      { x: 0.5, width: 0.5, state: 'stopped' },
    ]);
  });
});

describe('what the stream said of alarms', () => {
  const heard = (changes: typeof NO_CHANGES): string[] =>
    [...changes.heard.values()].map((each) => each.alarm.state);
  const states = ['acknowledged', 'normal'] as const;
  const [before, after] = states.map((state) => ({ ...alarm, id: state, state }));

  it('stays on top until the answer of a load that was asked for later is there', () => {
    const broken = beginTurn(hearAlarm(NO_CHANGES, before!));
    expect(heard(broken)).toEqual(['acknowledged']);
    expect(heard(endTurn(hearAlarm(broken, after!)))).toEqual(['normal']);
    expect(heard(endTurn(hearAlarm(NO_CHANGES, before!)))).toEqual(['acknowledged']);
  });
});

describe('work that was done', () => {
  it('is told with its day on the calendar of the site', () => {
    const work = {
      action: 'regreased',
      at: '2026-03-02T23:30:00Z',
      end: null,
      bearing: null,
      note: '',
    } as never;
    expect(nameWork(work, 'Asia/Kathmandu')).toBe('Tue 3 Mar 2026: regreased');
    expect(nameWork(work, 'Europe/London')).toBe('Mon 2 Mar 2026: regreased');
  });
});

describe('a rehearsal on its axis', () => {
  const tally = { activations: [{ from: new Date(AT).toISOString(), to: null }] } as never;

  it('an activation that stands reaches to the end, and what was not rehearsed is not "never raised"', () => {
    expect(placeActivations(tally, AT - 100, AT + 300)).toEqual([{ x: 0.25, width: 0.75, isOpen: true }]);
    expect(placeActivations(null, AT, AT + 1)).toBeNull();
  });

  it('has at most eight marks or so, whole steps of time', () => {
    for (const hours of [1, 24, 24 * 30]) {
      const ticks = placeTicks(AT, AT + hours * 3_600_000, 'UTC');
      expect(ticks.length).toBeGreaterThan(1);
      expect(ticks.length).toBeLessThanOrEqual(9);
      for (const { at } of ticks) expect(at % 600_000).toBe(0);
    }
  });

  it('begins its days at midnight of the site, over a change of the clocks too', () => {
    const [from, to] = [Date.parse('2026-10-22T09:00:00Z'), Date.parse('2026-10-28T09:00:00Z')];
    const ticks = placeTicks(from, to, 'Europe/London');
    expect(ticks.slice(0, 4).map(({ at, lines }) => [new Date(at).toISOString(), lines[0]])).toEqual([
      ['2026-10-22T23:00:00.000Z', '23 Oct'],
      ['2026-10-23T23:00:00.000Z', '24 Oct'],
      ['2026-10-24T23:00:00.000Z', '25 Oct'],
      ['2026-10-26T00:00:00.000Z', '26 Oct'],
    ]);
    expect(placeTicks(from, to, 'Asia/Kathmandu')[0]!.x).toBeCloseTo(9.25 / 144, 5);
  });
});
