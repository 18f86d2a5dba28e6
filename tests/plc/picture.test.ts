/** What is shown of a value, and for how long: nothing is shown because nothing newer came. */
import { describe, expect, it } from 'vitest';
import { summariseAlarms } from '../../src/plc/alarm-rank.js';
import { mergeRates } from '../../src/plc/news.js';
import type { Picture } from '../../src/plc/picture.js';
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

const plant = smallPlant();
const [pump] = plant.motors;
const [de] = plant.sensors;
const viewDe = (picture: Picture, now = NOW) => picture.viewSensor(de!, now);

describe('a rate', () => {
  it('is unknown before the first one, then as it was told, then too old', () => {
    expect(viewDe(fedPicture())).toMatchObject({ ratePerMin: null, standing: 'unknown', at: null });
    const picture = fedPicture({ rates: [rateNews()] });
    expect(viewDe(picture)).toMatchObject({ ratePerMin: 12.34, standing: 'good', at: NOW - 20_000 });
    expect(viewDe(picture, NOW - 20_000 + STALE_MS)).toMatchObject({ ratePerMin: 12.34 });
    expect(viewDe(picture, NOW - 20_000 + STALE_MS + 1)).toMatchObject({
      ...{ ratePerMin: null, lowerPerMin: null, upperPerMin: null, standing: 'stale', at: NOW - 20_000 },
    });
  });

  it('gets older while the motor stands, though the sensor is heard', () => {
    const standing = rateNews({ at: NOW + 300_000, runningAt: null });
    const picture = fedPicture({ rates: [rateNews(), standing] });
    expect(viewDe(picture, NOW + 300_000)).toMatchObject({
      ...{ standing: 'stale', at: NOW - 20_000, heardAt: NOW + 300_000 },
    });
  });

  it('keeps when it last ran, whichever news comes first, and never goes back', () => {
    const ran = rateNews({ at: NOW, runningAt: NOW });
    const stood = rateNews({ at: NOW + 10_000, runningAt: null, ratePerMin: 9 });
    for (const [a, b] of [
      [ran, stood],
      [stood, ran],
    ] as const)
      expect(mergeRates(a, b)).toMatchObject({ at: NOW + 10_000, runningAt: NOW, ratePerMin: 9 });
  });

  it('of doubtful quality is uncertain', () => {
    expect(viewDe(fedPicture({ rates: [rateNews({ quality: 'uncertain' })] })).standing).toBe('uncertain');
  });
});

describe('a run state', () => {
  it('holds for three heartbeats, until its reporter goes absent, and while the gateway speaks', () => {
    const picture = fedPicture({ drives: [driveNews()] });
    expect(picture.viewDrive(pump!, NOW)).toMatchObject({ state: 'running', modulating: true });
    expect(picture.viewDrive(pump!, NOW + 25_001)).toMatchObject({
      state: null,
      modulating: null,
      since: null,
    });
    picture.take(newsOf({ drives: [driveNews({ absentFrom: NOW })] }));
    expect(picture.viewDrive(pump!, NOW + 1).state).toBeNull();
    picture.take(newsOf({ drives: [driveNews({ at: NOW + 2_000 })] }));
    expect(picture.viewDrive(pump!, NOW + 3_000).state).toBe('running');
    expect(picture.viewDrive(pump!, NOW + 10_001).state).toBeNull();
  });

  it('of a message that came late changes nothing', () => {
    const picture = fedPicture({ drives: [driveNews(), driveNews({ at: NOW - 50_000, state: 'stopped' })] });
    expect(picture.viewDrive(pump!, NOW).state).toBe('running');
  });

  it('that nobody reports is taken as running, and said so', () => {
    expect(fedPicture().viewDrive(plant.motors[2]!, NOW).state).toBe('assumed');
  });
});

describe('health of a sensor', () => {
  const healthOf = (...kinds: string[]) => {
    const alarms = kinds.map((kind) => alarmNews(`pump-1.de-${kind}`));
    return viewDe(fedPicture({ rates: [rateNews()], alarms })).health;
  };
  it('follows from its alarms, the worst first', () => {
    expect(healthOf()).toBe('normal');
    expect(healthOf('rate-high')).toBe('normal');
    expect(healthOf('silent-in-company')).toBe('maintenance-required');
    expect(healthOf('silent-in-company', 'saturated')).toBe('out-of-specification');
    expect(healthOf('saturated', 'no-readings')).toBe('failure');
  });
  it('is a function check while one goes on, and unknown of a sensor not heard of', () => {
    expect(viewDe(fedPicture({ rates: [rateNews({ isCheck: true })] })).health).toBe('function-check');
    expect(viewDe(fedPicture()).health).toBeNull();
    expect(viewDe(fedPicture({ heard: [{ sensor: 'pump-1/de', at: NOW - 60_000 }] })).health).toBe('normal');
  });
});

describe('many alarms in one', () => {
  const summary = (...changes: Parameters<typeof alarmNews>[]) => {
    const picture = fedPicture({ alarms: changes.map((one) => alarmNews(...one)) });
    return summariseAlarms(picture.alarmsOfMotor('pump-1'));
  };
  it('is the most urgent one, with counts of what is shown', () => {
    expect(summary()).toEqual({ state: 'normal', priority: 0, active: 0, unacknowledged: 0 });
    expect(
      summary(
        ['pump-1.de-rate-high', { state: 'acknowledged', acknowledged: true }],
        ['pump-1.de-no-readings', { state: 'shelved', acknowledged: false }],
      ),
    ).toEqual({ state: 'acknowledged', priority: 2, active: 1, unacknowledged: 0 });
    expect(
      summary(
        ['pump-1.de-no-readings', {}],
        ['pump-1.de-rate-high', { state: 'acknowledged', acknowledged: true }],
      ),
    ).toEqual({ state: 'unacknowledged', priority: 2, active: 2, unacknowledged: 1 });
  });
  it('leaves out notices, which ask nothing of an operator', () => {
    expect(summary(['pump-1.de-silent-in-company', {}])).toMatchObject({ state: 'normal', active: 0 });
  });
});
