import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  faultOfPlaceName,
  isPlaceName,
  parseSensorKey,
  RESERVED_NAMES,
  sensorKey,
} from '../../shared/names.js';
import * as topics from '../../shared/topics.js';

const site = 'tarn-hollow';
const place = fc.stringMatching(/^[a-z0-9][a-z0-9-]{0,39}$/).filter(isPlaceName);
const period = fc.constantFrom(...topics.PERIODS);

describe('topics', () => {
  test('what is built is taken apart into the same names', () => {
    fc.assert(
      fc.property(place, place, place, period, place, (at, motor, position, length, alarm) => {
        const back = (topic: string) => topics.parseTopic(topic, at);
        expect(back(topics.readingTopic(at, motor, position))).toEqual({ kind: 'reading', motor, position });
        expect(back(topics.sensorPresenceTopic(at, motor, position))).toEqual({
          kind: 'sensor-presence',
          motor,
          position,
        });
        expect(back(topics.driveStateTopic(at, motor))).toEqual({ kind: 'drive-state', motor });
        expect(back(topics.drivePresenceTopic(at, motor))).toEqual({ kind: 'drive-presence', motor });
        expect(back(topics.gatewayPresenceTopic(at))).toEqual({ kind: 'out', message: 'gateway-presence' });
        expect(back(topics.journalTopic(at))).toEqual({ kind: 'out', message: 'journal' });
        expect(back(topics.rateTopic(at, motor, position))).toEqual({
          kind: 'out',
          message: 'rate',
          motor,
          position,
        });
        expect(back(topics.rollupTopic(at, motor, position, length))).toEqual({
          kind: 'out',
          message: 'rollup',
          motor,
          position,
          period: length,
        });
        expect(back(topics.alarmTopic(at, motor, alarm))).toEqual({
          kind: 'out',
          message: 'alarm',
          motor,
          alarm,
        });
      }),
    );
  });

  test('an alarm of the gateway itself has the gateway in the place of the motor', () => {
    const topic = topics.alarmTopic(site, 'gateway', 'storage-full');
    expect(topics.parseTopic(topic, site)).toMatchObject({ message: 'alarm', motor: 'gateway' });
  });

  test('whatever comes, the answer is a value with a reason, and what is accepted is built again alike', () => {
    const level = fc.oneof(
      fc.constantFrom(
        'in',
        'out',
        'drive',
        'alarm',
        'rate',
        'rollup',
        'reading',
        'presence',
        'state',
        'journal',
      ),
      fc.constantFrom('', 'gateway', '1m', 'booster-1', 'de', 'Booster', '+', '#', '$SYS', 'é', '-de'),
      fc.string(),
    );
    fc.assert(
      fc.property(fc.array(level, { maxLength: 7 }), (levels) => {
        const topic = [site, ...levels].join('/');
        const parsed = topics.parseTopic(topic, site);
        if (parsed.kind === 'invalid') expect(parsed.reason).toMatch(/expected .*found/s);
        else expect(rebuild(parsed)).toBe(topic);
      }),
      { numRuns: 2000 },
    );
  });

  test.each([
    ['lakeside/in/booster-1/de/reading', /first level: expected tarn-hollow/],
    ['tarn-hollow/up/booster-1/de/reading', /second level: expected in or out/],
    ['tarn-hollow', /second level/],
    ['tarn-hollow/in/booster-1/de', /five levels/],
    ['tarn-hollow/in/booster-1/de/reading/', /five levels/],
    ['tarn-hollow/in/Booster-1/de/reading', /motor: expected a name .*found "Booster-1"/],
    ['tarn-hollow/in//de/reading', /motor: expected a name .*found ""/],
    ['tarn-hollow/in/booster-1/d e/reading', /position: expected a name .*found "d e"/],
    ['tarn-hollow/in/gateway/de/reading', /motor: .*"gateway", which is reserved/],
    ['tarn-hollow/in/booster-1/alarm/reading', /position: .*"alarm", which is reserved/],
    ['tarn-hollow/in/booster-1/drive/reading', /expected state or presence under drive/],
    ['tarn-hollow/in/booster-1/de/state', /expected reading or presence under a position/],
    ['tarn-hollow/out/booster-1/de/rollup/5m', /period: expected one of 10s, 1m, 10m, 1h/],
    ['tarn-hollow/out/booster-1/de/rates', /expected rate or rollup/],
    ['tarn-hollow/out/booster-1/alarm/Rate', /alarm: expected a name/],
    ['tarn-hollow/out/booster-1/alarm', /<alarm>/],
    ['tarn-hollow/out/gateway/de/rate', /"gateway", which is reserved/],
  ])('%s is refused and the level is named', (topic, reason) => {
    const parsed = topics.parseTopic(topic, site);
    expect(parsed.kind).toBe('invalid');
    expect(parsed.kind === 'invalid' ? parsed.reason : '').toMatch(reason);
  });
});

describe('names', () => {
  test.each(RESERVED_NAMES)('%s is reserved for motors and positions', (name) => {
    expect(faultOfPlaceName('motor', name)).toMatch(/reserved/);
    expect(parseSensorKey(`${name}/de`)).toBeNull();
    expect(parseSensorKey(`booster-1/${name}`)).toBeNull();
  });

  test.each(['a', '1', 'x-', 'a'.repeat(40), 'booster-1'])('%s is a name', (name) => {
    expect(faultOfPlaceName('motor', name)).toBeNull();
  });

  test.each(['', '-a', 'A', 'a_b', 'a/b', 'a\n', 'é', 'a'.repeat(41)])('%j is none', (name) => {
    expect(faultOfPlaceName('motor', name)).toMatch(/^motor: expected a name of/);
  });

  test('the key of a sensor gives its names back', () => {
    fc.assert(
      fc.property(place, place, (motor, position) => {
        expect(parseSensorKey(sensorKey(motor, position))).toEqual({ motor, position });
      }),
    );
    for (const key of ['', 'booster-1', 'booster-1/de/x', '/de', 'booster-1/'])
      expect(parseSensorKey(key)).toBeNull();
  });
});

function rebuild(parsed: Exclude<topics.ParsedTopic, topics.InvalidTopic>): string {
  switch (parsed.kind) {
    case 'reading':
      return topics.readingTopic(site, parsed.motor, parsed.position);
    case 'sensor-presence':
      return topics.sensorPresenceTopic(site, parsed.motor, parsed.position);
    case 'drive-state':
      return topics.driveStateTopic(site, parsed.motor);
    case 'drive-presence':
      return topics.drivePresenceTopic(site, parsed.motor);
    case 'out':
      return rebuildOut(parsed);
  }
}

function rebuildOut(parsed: topics.OutTopic): string {
  switch (parsed.message) {
    case 'gateway-presence':
      return topics.gatewayPresenceTopic(site);
    case 'journal':
      return topics.journalTopic(site);
    case 'rate':
      return topics.rateTopic(site, parsed.motor, parsed.position);
    case 'rollup':
      return topics.rollupTopic(site, parsed.motor, parsed.position, parsed.period);
    case 'alarm':
      return topics.alarmTopic(site, parsed.motor, parsed.alarm);
  }
}
