/**
 * The gate as a table: what the drive said, one increment, its class. Times in seconds after a full hour.
 */
import { describe, expect, it } from 'vitest';
import type { CheckSpan } from '../../src/core/check-span.js';
import { classify } from '../../src/core/gate.js';
import type { MotorPlan, SensorPlan } from '../../src/core/plan.js';
import type { DriveRow, Increment, PresenceRow } from '../../src/core/rows.js';
import { buildTimeline } from '../../src/core/run-state.js';
import { CLASS_NAMES, Flag, flagClockError, REASON_NAMES } from '../../src/core/words.js';
import { GATE, motorPlan, sensorPlan } from '../support/plans.js';

const T0 = 1_700_000_000_000;
const seconds = (s: number): number => T0 + s * 1000;

/** `at state [since s] [mod|no-mod] [rpm n]` or `at online|offline`, one a line. */
function timeline(story: string, change: Partial<MotorPlan> = {}) {
  const rows: DriveRow[] = [];
  const presences: PresenceRow[] = [];
  for (const line of story.trim().split('\n')) {
    const words = line.trim().split(/\s+/);
    const at = seconds(Number(words[0]));
    if (words[1] === 'online' || words[1] === 'offline') {
      presences.push({ motor: 'pump', at, online: words[1] === 'online' });
      continue;
    }
    const state = words[1] as DriveRow['state'];
    const since = words.includes('since') ? seconds(Number(words[words.indexOf('since') + 1])) : null;
    const usual = state === 'running' || state === 'starting' || state === 'stopping';
    const modulating = words.includes('mod') || (usual && !words.includes('no-mod'));
    rows.push({
      motor: 'pump',
      at,
      since,
      state,
      modulating,
      speedRpm: null,
      loadPct: null,
      switchingKhz: null,
      dcLinkV: null,
      receivedAt: at,
    });
  }
  return buildTimeline(motorPlan('pump', { clockErrorMs: 0, ...change }), GATE, 0.1, rows, presences);
}

function increment(from: number, to: number, flags = 0): Increment {
  return {
    sensor: 'pump/de',
    to: seconds(to),
    from: seconds(from),
    chain: 1,
    seq: 1,
    count: 1,
    upMs: null,
    pulses: 1,
    class: 8,
    reason: 0,
    flags,
    temperature: null,
    bin: '',
    stored: true,
  };
}

function judge(
  story: string,
  from: number,
  to: number,
  more: {
    flags?: number;
    motor?: Partial<MotorPlan>;
    sensor?: Partial<SensorPlan>;
    coupled?: string;
    checks?: CheckSpan[];
  } = {},
): string {
  const coupled = more.coupled === undefined ? [] : [timeline(more.coupled)];
  const plan = sensorPlan('pump', 'de', { clockErrorMs: 0, ...more.sensor });
  const found = classify(
    plan,
    GATE,
    { own: timeline(story, more.motor), coupled, checks: more.checks ?? [] },
    increment(from, to, more.flags),
  );
  return `${CLASS_NAMES[found.class]}${found.reason === 0 ? '' : ` (${REASON_NAMES[found.reason]})`}`;
}

const CYCLE = `
  0 stopped since -500
  100 starting since 100
  108 running since 108
  900 stopping since 900
  910 stopped since 910
`;

describe('the class of an increment', () => {
  it.each([
    [50, 60, 'background'],
    [88, 98, 'background'], // touching the guard (from 98) is not overlapping
    [89, 99, 'transient'],
    [103, 113, 'transient'],
    [112, 122, 'transient'], // the guard ends at 113
    [113, 123, 'running'],
    [500, 510, 'running'],
    [888, 898, 'running'],
    [889, 899, 'transient'],
    [905, 915, 'transient'],
    [919, 929, 'transient'], // the guard ends at 920
    [920, 930, 'background'],
  ])('%i..%i s of a plain cycle is %s', (from, to, expected) =>
    expect(judge(CYCLE, from, to)).toBe(expected),
  );

  it('widens guards by the clock error', () => {
    expect(judge(CYCLE, 113, 123, { motor: { clockErrorMs: 1000 } })).toBe('transient');
    expect(judge(CYCLE, 114, 124, { motor: { clockErrorMs: 1000 } })).toBe('running');
  });

  it('takes the first class that applies', () => {
    expect(judge(CYCLE, 103, 113, { flags: Flag.rejected | Flag.touchesCheck })).toBe(
      'rejected (implausible-rate)',
    );
    expect(judge(CYCLE, 103, 113, { flags: Flag.touchesCheck })).toBe('check');
    expect(judge(CYCLE, 103, 140)).toBe('unattributed (too-long)');
    expect(judge(CYCLE, 500, 500)).toBe('unattributed (no-length)');
    expect(judge(CYCLE, 500, 490)).toBe('unattributed (clock-step)');
    expect(judge(CYCLE, 500, 510, { flags: Flag.stepped })).toBe('unattributed (clock-step)');
  });

  it('what a person checks is in class check, whatever else applies but an implausible rate', () => {
    const checks = [
      { from: seconds(90), to: seconds(110) },
      { from: seconds(510), to: seconds(530) },
    ];
    const checked = (from: number, to: number, flags = 0) => judge(CYCLE, from, to, { checks, flags });
    expect(checked(500, 510)).toBe('running'); // touching is not overlapping
    expect(checked(500.001, 510.001)).toBe('check');
    expect(checked(529, 539)).toBe('check');
    expect(checked(530, 540)).toBe('running');
    expect(checked(103, 113)).toBe('check');
    expect(checked(103, 113, Flag.rejected)).toBe('rejected (implausible-rate)');
    expect(checked(400, 580)).toBe('check');
    expect(checked(510, 510)).toBe('check');
    expect(checked(530, 530)).toBe('unattributed (no-length)');
    expect(checked(528, 518)).toBe('unattributed (clock-step)');
    expect(checked(50, 60)).toBe('background');
  });

  it('allows three intervals and five per cent', () => {
    expect(judge(CYCLE, 500, 531.5)).toBe('running');
    expect(judge(CYCLE, 500, 531.501)).toBe('unattributed (too-long)');
  });

  it('a clock that is off leaves open what it may have moved over an edge', () => {
    const off = (errorMs: number) => ({ flags: flagClockError(errorMs) });
    expect(judge(CYCLE, 300, 310, off(5_000))).toBe('running');
    expect(judge(CYCLE, 120, 130, off(5_000))).toBe('unattributed (clock-off)'); // within an interval of the guard
    expect(judge(CYCLE, 124, 134, off(5_000))).toBe('running');
    expect(judge(CYCLE, 300, 310, off(-180_000))).toBe('unattributed (clock-off)'); // may lie 256 s elsewhere
    expect(judge(CYCLE, 500, 510, off(-180_000))).toBe('running');
    expect(judge(CYCLE, 500, 510, off(3_600_000))).toBe('unattributed (clock-off)');
  });

  it('an unknown run state is never stopped', () => {
    const beats = `0 running since -900\n10 running\n20 running\n60 running`;
    const heartbeat = { heartbeatMs: 10_000 };
    expect(judge(beats, 10, 20, { motor: heartbeat })).toBe('running');
    expect(judge(beats, 40, 50, { motor: heartbeat })).toBe('running'); // held for three heartbeats, to 50
    expect(judge(beats, 41, 51, { motor: heartbeat })).toBe('unattributed (unknown-run-state)');
    expect(judge(beats, 60, 70, { motor: heartbeat })).toBe('running'); // no edge after unknown: no guard
    expect(judge(`0 running since -900\n100 offline`, 95, 105)).toBe('unattributed (unknown-run-state)');
    expect(judge(`0 running since -900\n100 offline\n200 running since -900`, 95, 105)).toBe('running');
    expect(judge(`0 running since -900\n100 offline\n200 stopped since 150`, 155, 165)).toBe('background');
  });

  it('an edge without since lies anywhere between two observations', () => {
    const polled = `0 stopped\n30 stopped\n60 running\n90 running`;
    const heartbeat = { heartbeatMs: 30_000 };
    expect(judge(polled, 17, 27, { motor: heartbeat })).toBe('background');
    expect(judge(polled, 20, 30, { motor: heartbeat })).toBe('transient');
    expect(judge(polled, 55, 65, { motor: heartbeat })).toBe('transient');
    expect(judge(polled, 65, 75, { motor: heartbeat })).toBe('running');
  });

  it('messages that follow one another as a poll does leave the whole time between them open', () => {
    const polled = `0 stopped\n10 stopped\n20 running\n30 running`;
    expect(judge(polled, -3, 7)).toBe('unattributed (unknown-run-state)');
    expect(judge(polled, 0, 8)).toBe('background');
    expect(judge(polled, 0, 9)).toBe('transient'); // the guard begins two seconds before the poll at 10
    expect(judge(polled, 25, 35)).toBe('running');
    const onChange = `0 stopped\n600 running`; // its silence says that it stood until five seconds before
    expect(judge(onChange, 580, 590)).toBe('background');
    expect(judge(onChange, 590, 594)).toBe('transient');
  });

  it('a time of entry before an observation that said otherwise is none', () => {
    for (const since of ['-3000', '-1700000000']) {
      const wrong = `0 stopped since -500\n600 running since ${since}`;
      expect(judge(wrong, 300, 310)).toBe('background');
      expect(judge(wrong, 590, 600)).toBe('transient');
      expect(timeline(wrong).guards).toHaveLength(1);
    }
    expect(judge(`0 stopped since -500\n10 running since -1`, 20, 30)).toBe('running');
  });

  it('a state that lasted no time leaves no guard behind', () => {
    const story = `0 stopped since -500\n600 starting\n603 running since 599`;
    expect(judge(story, 606, 616)).toBe('running');
  });

  it('a ramp that the drive does not report widens the guards of start and stop', () => {
    const bare = `0 stopped since -500\n100 running since 100\n500 stopped since 500`;
    expect(judge(bare, 106, 116)).toBe('running');
    expect(judge(bare, 106, 116, { motor: { rampMs: 20_000 } })).toBe('transient');
    expect(judge(bare, 125, 135, { motor: { rampMs: 20_000 } })).toBe('running');
    expect(judge(bare, 480, 490, { motor: { rampMs: 20_000 } })).toBe('transient');
  });

  it('starting beyond the cap stays transient', () => {
    const long = `0 stopped since -500\n100 starting since 100\n400 running since 400`;
    expect(judge(long, 300, 310)).toBe('transient');
  });

  it('fault and stopped are one standing motor', () => {
    const tripped = `0 running since -900\n100 fault since 100\n300 stopped since 300`;
    expect(judge(tripped, 295, 305)).toBe('background');
    expect(timeline(tripped).guards).toHaveLength(1);
  });

  it('names what is odd', () => {
    expect(judge(`0 stopped since -900 mod`, 100, 110)).toBe('unattributed (modulating-while-stopped)');
    expect(judge(`0 running since -900 no-mod`, 100, 110)).toBe('unattributed (running-without-modulation)');
  });

  it('hears a coupled drive switch, and only then', () => {
    const steady = `0 running since -900`;
    expect(judge(steady, 95, 105, { coupled: CYCLE })).toBe('transient (coupled-drive)');
    expect(judge(steady, 105, 115, { coupled: CYCLE })).toBe('running'); // starting to running: its modulation goes on
    expect(judge(steady, 905, 915, { coupled: CYCLE })).toBe('transient (coupled-drive)');
  });
});

describe('transients', () => {
  it('merge when guards lie within five seconds: a jogged drive makes one record', () => {
    const jog = `
      0 stopped since -500
      100 starting since 100
      103 running since 103
      110 stopping since 110
      112 stopped since 112
      128 starting since 128
      132 running since 132
    `;
    expect(
      timeline(jog).guards.map((g) => ({
        from: (g.from - T0) / 1000,
        to: (g.to - T0) / 1000,
        edges: g.edges,
        kind: g.kind,
      })),
    ).toEqual([{ from: 98, to: 137, edges: 6, kind: 'start-stop' }]);
  });

  it('stay apart beyond that', () => {
    expect(
      timeline(CYCLE).guards.map((g) => [(g.from - T0) / 1000, (g.to - T0) / 1000, g.edges, g.kind]),
    ).toEqual([
      [98, 113, 2, 'start'],
      [898, 920, 2, 'stop'],
    ]);
  });
});
