/** Source times of a node: never backwards, never the same for two values, and of a lost value the moment of its loss. */
import { describe, expect, it } from 'vitest';
import { ALARM_STATES } from '../../shared/alarm-terms.js';
import {
  tellAlarmState,
  tellHealth,
  tellRate,
  tellRunState,
  type ToldValue,
} from '../../src/plc/opcua-values.js';
import type { News } from '../../src/plc/news.js';
import type { Picture } from '../../src/plc/picture.js';
import { stampValue, type StampedValue } from '../../src/plc/source-time.js';
import {
  alarmNews,
  driveNews,
  fedPicture,
  newsOf,
  NOW,
  rateNews,
  smallPlant,
  STALE_MS,
} from './small-plant.js';

const [de] = smallPlant().sensors;
const [pump] = smallPlant().motors;
const SENSOR = 'pump-1/de';
const ALARM = 'pump-1.de-rate-high';
const S = 1_000;

type Step = readonly [afterMs: number, status: string | number, timeMs: number];

/** A node looked at each second, as the server does: what was written, with times from `NOW`. */
class Node {
  readonly written: Step[] = [];
  readonly picture: Picture;
  #last: StampedValue | null = null;
  #now = NOW;

  constructor(
    private readonly tell: (picture: Picture, now: number) => ToldValue,
    first: Partial<News> = {},
  ) {
    this.picture = fedPicture(first);
    this.refresh();
  }

  take(part: Partial<News>): void {
    this.picture.take(newsOf(part));
    this.refresh();
  }

  /** `isFed` false: the gateway says nothing. */
  wait(untilMs: number, isFed = true): void {
    while (this.#now < NOW + untilMs) {
      this.#now += S;
      if (isFed) this.picture.feed = { ...this.picture.feed, beatAt: this.#now };
      this.refresh();
    }
  }

  refresh(): void {
    const stamped = stampValue(this.#last, this.tell(this.picture, this.#now), this.#now);
    if (stamped === null) return;
    this.#last = stamped;
    const { value, status, at } = stamped;
    this.written.push([this.#now - NOW, status === 'Good' && value !== null ? value : status, at - NOW]);
  }
}

const nodeOfRate = (first: Partial<News>): Node =>
  new Node((seen, now) => tellRate(seen.viewSensor(de!, now), de!, (view) => view.ratePerMin, now), first);
const nodeOfAlarms = (first: Partial<News> = {}): Node =>
  new Node((seen, now) => tellAlarmState(seen, { sensor: SENSOR }, now), first);
const numberOf = (state: (typeof ALARM_STATES)[number]): number => ALARM_STATES.indexOf(state);
const ranAt = (atMs: number, ratePerMin: number) =>
  rateNews({ at: NOW + atMs, runningAt: NOW + atMs, ratePerMin });

describe('a rate', () => {
  it('that got too old is lost from then on, not from the time of its last good value', () => {
    const node = nodeOfRate({ rates: [ranAt(0, 12)] });
    node.wait(40 * S);
    node.take({ rates: [ranAt(30 * S, 13)] });
    node.wait(200 * S);
    const [first, second, uncertain, lost, ...more] = node.written;
    expect([first, second]).toEqual([
      [0, 12, 0],
      [40 * S, 13, 30 * S],
    ]);
    expect(uncertain).toEqual([expect.any(Number), 'UncertainLastUsableValue', expect.any(Number)]);
    expect(uncertain![2]).toBeGreaterThan(30 * S);
    expect(uncertain![0] - uncertain![2]).toBeLessThanOrEqual(S);
    expect(lost).toEqual([151 * S, 'BadNoCommunication', 30 * S + STALE_MS]);
    expect(more).toEqual([]);
  });

  it('of a standing motor is out of service from then on, and later nobody is heard', () => {
    const node = nodeOfRate({ rates: [ranAt(0, 12)] });
    node.wait(70 * S);
    node.take({ heard: [{ sensor: SENSOR, at: NOW + 70 * S }] });
    node.wait(300 * S);
    expect(node.written.slice(2)).toEqual([
      [121 * S, 'BadOutOfService', STALE_MS],
      [191 * S, 'BadNoCommunication', 70 * S + STALE_MS],
    ]);
  });

  it('that is good again behind its loss is so from then on, though its window ended before', () => {
    const node = nodeOfRate({ rates: [ranAt(0, 12)] });
    node.wait(130 * S);
    node.take({ rates: [ranAt(100 * S, 14)] });
    node.take({ rates: [ranAt(110 * S, 15)] });
    node.wait(140 * S);
    node.take({ rates: [ranAt(135 * S, 16)] });
    expect(node.written.slice(-3)).toEqual([
      [130 * S, 14, 130 * S],
      [130 * S, 15, 130 * S + 1],
      [140 * S, 16, 135 * S],
    ]);
  });

  it('nobody has told yet is waited for from the start on, once', () => {
    const node = nodeOfRate({});
    node.wait(20 * S);
    expect(node.written).toEqual([[0, 'BadWaitingForInitialData', 0]]);
  });
});

describe('the state of an alarm', () => {
  it('that somebody changes has the time of the change, not that of the raise', () => {
    const node = nodeOfAlarms();
    node.wait(100 * S);
    const raised = { since: NOW + 95 * S };
    node.take({ alarms: [alarmNews(ALARM, raised)] });
    node.wait(160 * S);
    const acknowledged = { ...raised, state: 'acknowledged', acknowledged: true } as const;
    node.take({ alarms: [alarmNews(ALARM, acknowledged)] });
    node.wait(220 * S);
    node.take({ alarms: [alarmNews(ALARM, { ...acknowledged, state: 'shelved' })] });
    node.wait(280 * S);
    node.take({ alarms: [alarmNews(ALARM, acknowledged)] });
    expect(node.written).toEqual([
      [0, numberOf('normal'), 0],
      [100 * S, numberOf('unacknowledged'), 95 * S],
      [160 * S, numberOf('acknowledged'), 160 * S],
      [220 * S, numberOf('shelved'), 220 * S],
      [280 * S, numberOf('acknowledged'), 280 * S],
    ]);
  });

  it('keeps its time when a second alarm makes it no other', () => {
    const node = nodeOfAlarms({ alarms: [alarmNews(ALARM, { since: NOW - 5 * S })] });
    node.wait(10 * S);
    node.take({ alarms: [alarmNews('pump-1.de-no-readings', { since: NOW + 9 * S })] });
    expect(node.written).toEqual([[0, numberOf('unacknowledged'), -5 * S]]);
  });

  it('that was acknowledged before this server began does not stand under the time of the raise', () => {
    const changed = { state: 'acknowledged', acknowledged: true, since: NOW - 7_200 * S } as const;
    expect(nodeOfAlarms({ alarms: [alarmNews(ALARM, changed)] }).written).toEqual([
      [0, numberOf('acknowledged'), 0],
    ]);
  });

  it('is unknown from when the gateway falls silent, and known again from when it speaks', () => {
    const node = nodeOfAlarms({ alarms: [alarmNews(ALARM, { since: NOW - 7_200 * S })] });
    node.wait(60 * S, false);
    node.wait(90 * S);
    expect(node.written).toEqual([
      [0, numberOf('unacknowledged'), -7_200 * S],
      [11 * S, 'BadNoCommunication', 11 * S],
      [61 * S, numberOf('unacknowledged'), 61 * S],
    ]);
  });
});

describe('a run state', () => {
  const node = (first: Partial<News>): Node => new Node((seen, now) => tellRunState(seen, pump!, now), first);
  const RUNNING = 3;

  it('is lost from its last heartbeat that may be missed on, or from when its reporter went', () => {
    const silent = node({ drives: [driveNews({ at: NOW })] });
    silent.wait(60 * S);
    expect(silent.written).toEqual([
      [0, RUNNING, 0],
      [31 * S, 'BadNoCommunication', 30 * S],
    ]);
    const gone = node({ drives: [driveNews({ at: NOW })] });
    gone.wait(10 * S);
    gone.take({ drives: [driveNews({ at: NOW, absentFrom: NOW + 9 * S })] });
    expect(gone.written.at(-1)).toEqual([10 * S, 'BadNoCommunication', 9 * S]);
  });

  it('that a drive told hours ago is not told as of then once more', () => {
    const own = smallPlant().motors[1]!;
    const drive = driveNews({ motor: 'pump-2', at: NOW - 18_000 * S });
    const seen = new Node((picture, now) => tellRunState(picture, own, now), { drives: [drive] });
    seen.wait(30 * S, false);
    seen.wait(40 * S);
    expect(seen.written).toEqual([
      [0, RUNNING, -18_000 * S],
      [11 * S, 'BadNoCommunication', 11 * S],
      [31 * S, RUNNING, 31 * S],
    ]);
  });
});

it('health of a sensor that fails is told as of then, not under the time at which it was heard well', () => {
  const node = new Node((seen, now) => tellHealth(seen.viewSensor(de!, now), de!, now), {
    rates: [ranAt(0, 12)],
  });
  node.wait(50 * S);
  node.take({ alarms: [alarmNews('pump-1.de-saturated')] });
  node.wait(300 * S);
  expect(node.written).toEqual([
    [0, 0, 0],
    [50 * S, 3, 50 * S],
    [121 * S, 'BadNoCommunication', STALE_MS],
  ]);
});

it('a clock that is put back makes no time run backwards', () => {
  const stamped = stampValue(
    { value: 1, status: 'Good', at: NOW },
    { value: 2, status: 'Good', at: null },
    0,
  );
  expect(stamped).toEqual({ value: 2, status: 'Good', at: NOW + 1 });
});
