import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readBySchema } from '../../shared/fields.js';
import {
  driveStateSchema,
  readDrivePresence,
  readDriveState,
  readingSchema,
  readReading,
  readSensorPresence,
} from '../../shared/messages.js';
import { driveStates, readings } from './arbitrary-messages.js';

describe('the readers written by hand answer as the schema does, value and reason alike', () => {
  test('readings', () => {
    fc.assert(
      fc.property(readings, (json) => {
        expect(readReading(json)).toEqual(readBySchema(readingSchema, json));
      }),
      { numRuns: 20_000 },
    );
  });

  test('drive states', () => {
    fc.assert(
      fc.property(driveStates, (json) => {
        expect(readDriveState(json)).toEqual(readBySchema(driveStateSchema, json));
      }),
      { numRuns: 20_000 },
    );
  });

  test('anything that JSON can say', () => {
    fc.assert(
      fc.property(fc.json(), (text) => {
        const json: unknown = JSON.parse(text);
        expect(readReading(json)).toEqual(readBySchema(readingSchema, json));
        expect(readDriveState(json)).toEqual(readBySchema(driveStateSchema, json));
      }),
      { numRuns: 2000 },
    );
  });
});

test('a count alone is a reading; what it does not say is null, never zero', () => {
  expect(readReading({ count: 7 })).toEqual({
    ok: true,
    value: {
      device: '',
      count: 7,
      at: null,
      seq: null,
      boot: null,
      upMs: null,
      temperatureC: null,
      supplyV: null,
      check: false,
    },
  });
});

test('both forms of time give milliseconds', () => {
  expect(readReading({ count: 7, at: 482_196_050_520 })).toEqual(
    readReading({ count: 7, at: '1985-04-12T23:20:50.52Z' }),
  );
});

test('unknown fields are ignored', () => {
  expect(readReading({ count: 7, colour: 'blue' })).toEqual(readReading({ count: 7 }));
  expect(readDrivePresence({ online: false, who: 'panel' })).toEqual({ ok: true, value: { online: false } });
});

test.each([
  ['stopped', false],
  ['starting', true],
  ['running', true],
  ['stopping', true],
  ['fault', false],
])('in %s the output switches: %s, unless the message says otherwise', (state, modulating) => {
  expect(readDriveState({ state })).toMatchObject({ ok: true, value: { modulating } });
  expect(readDriveState({ state, modulating: !modulating })).toMatchObject({
    value: { modulating: !modulating },
  });
});

test.each<[string, unknown, string]>([
  ['no object', 17, 'message: expected a JSON object, found 17'],
  ['a list', [], 'message: expected a JSON object, found a list of 0'],
  ['no count', {}, 'count: expected an integer from 0 to 9007199254740991, found nothing'],
  ['a negative count', { count: -3 }, 'count: expected an integer from 0 to 9007199254740991, found -3'],
  ['half a pulse', { count: 0.5 }, 'count: expected an integer from 0 to 9007199254740991, found 0.5'],
  ['a count as text', { count: '7' }, 'count: expected an integer from 0 to 9007199254740991, found "7"'],
  ['null', { count: 7, seq: null }, 'seq: expected an integer from 0 to 9007199254740991, found null'],
  [
    'an empty device',
    { count: 7, device: '' },
    'device: expected text of 1 to 64 characters without control characters, found ""',
  ],
  ['a word for a flag', { count: 7, check: 'yes' }, 'check: expected true or false, found "yes"'],
])('%s is answered with the field, what was expected and what was found', (_, json, reason) => {
  expect(readReading(json)).toEqual({ ok: false, reason });
});

test('a day that does not exist is answered with the form that a time has', () => {
  const result = readReading({ count: 7, at: '2026-02-30T00:00:00Z' });
  expect(result.ok ? '' : result.reason).toMatch(/^at: expected a time: .* found "2026-02-30T00:00:00Z"$/);
});

test('a reason stays short, whatever was sent', () => {
  const result = readReading({ count: 'x'.repeat(1_000_000) });
  expect(result.ok ? '' : result.reason.length).toBeLessThan(200);
});

test('presence needs its one word', () => {
  expect(readSensorPresence({ online: true, device: 'DS-20417', firmware: '2.4.1' })).toEqual({
    ok: true,
    value: { online: true, device: 'DS-20417', firmware: '2.4.1' },
  });
  expect(readSensorPresence({ online: false })).toEqual({
    ok: true,
    value: { online: false, device: '', firmware: '' },
  });
  expect(readSensorPresence({ device: 'DS-20417' })).toEqual({
    ok: false,
    reason: 'online: expected true or false, found nothing',
  });
  expect(readDrivePresence({ online: 1 })).toEqual({
    ok: false,
    reason: 'online: expected true or false, found 1',
  });
});
