/** What is written from the core's rows fits the schemas, and says what the rows say. */
import { newAlarm } from '../../src/core/alarm.js';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { LEDGER_CLASS_NAMES } from '../../shared/ledger-terms.js';
import {
  alarmSchema,
  gatewayPresenceSchema,
  journalSchema,
  rateSchema,
  rollupSchema,
} from '../../shared/out-messages.js';
import {
  writeAlarm,
  writeClasses,
  writeGatewayPresence,
  writeJournal,
  writeRate,
  writeRollup,
} from '../../shared/write-messages.js';
import type { AlarmRecord, Evidence, JournalEntry } from '../../src/core/alarm-rows.js';
import type { RateNow } from '../../src/core/rows.js';

const START = Date.UTC(2026, 2, 2, 6);
const pulses = [0, 1, 2, 3, 4, 5, 60, 7, 0];
const ms = [0, 0, 0, 0, 10_000, 0, 40_000, 10_000, 0];

const evidence: Evidence = {
  from: START,
  to: START + 600_000,
  pulses: 540,
  exposureMs: 600_000,
  ratePerMin: 54,
  lowerPerMin: 43.3,
  upperPerMin: 66.41,
  dispersion: 2,
  confidence: 0.9995,
  setpointPerMin: 30,
  deadbandPerMin: null,
  onDelayMs: 120_000,
  offDelayMs: 600_000,
  strip: [{ from: START, to: START + 600_000, state: 'unknown', modulating: false }],
  configuration: 'a1b2',
  says: 'enough',
};

const alarm: AlarmRecord = {
  ...newAlarm({
    ...{ id: 'fan-1.de-rate-high', motor: 'fan-1', alarm: 'de-rate-high', sensor: 'fan-1/de' },
    ...{ kind: 'rate-high', priority: 'low' },
  }),
  ...{ active: true, acknowledged: false, shelvedUntil: START, state: 'shelved', evidence },
};

test('a rate keeps its numbers, and its window ends 10 s after it starts', () => {
  const row: RateNow = {
    sensor: 'fan-1/de',
    window: { sensor: 'fan-1/de', start: START, pulses, ms, uncertainMs: 5 },
    from: START - 590_000,
    to: START + 10_000,
    pulses: 0,
    exposureMs: 0,
    ratePerMin: null,
    lowerPerMin: null,
    upperPerMin: null,
    dispersion: 1,
    quality: 'uncertain',
  };
  const message = writeRate(row);
  expect(rateSchema.parse(message)).toEqual(message);
  expect(message).toMatchObject({
    rate_per_min: null,
    window: {
      end: '2026-03-02T06:00:10.000Z',
      uncertain_ms: 5,
      classes: { running: { pulses: 60, ms: 40_000 } },
    },
  });
});

describe('a rollup', () => {
  test('divides running pulses by running time, last', () => {
    const message = writeRollup({
      sensor: 'fan-1/de',
      period: '1m',
      start: START,
      revision: 3,
      pulses,
      ms,
      uncertainMs: 0,
      bins: [],
    });
    expect(rollupSchema.parse(message)).toEqual(message);
    expect(message).toMatchObject({ end: '2026-03-02T06:01:00.000Z', revision: 3, rate_per_min: 90 });
    expect(message).not.toHaveProperty('bins');
  });

  test('tells its condition bins where there are any', () => {
    const bins = [
      { bin: 'speed ..600', pulses: 20, ms: 10_000 },
      { bin: 'speed 600..', pulses: 40, ms: 30_000 },
    ];
    const message = writeRollup({
      ...{ sensor: 'fan-1/de', period: '1h', start: START, revision: 0, pulses, ms, uncertainMs: 0, bins },
    });
    expect(rollupSchema.parse(message)).toEqual(message);
    expect(message.bins).toEqual(bins);
  });

  test('without running time has no rate, not zero', () => {
    const none = {
      sensor: 'fan-1/de',
      period: '1h',
      start: START,
      revision: 0,
      pulses,
      ms: [],
      uncertainMs: 0,
      bins: [],
    } as const;
    expect(writeRollup(none).rate_per_min).toBeNull();
  });

  test('carries every class: nothing is lost between the array and the names', () => {
    const nine = fc.array(fc.nat(), { minLength: 9, maxLength: 9 });
    fc.assert(
      fc.property(nine, nine, (counts, times) => {
        const classes = writeClasses({ pulses: counts, ms: times, uncertainMs: 0 });
        expect(LEDGER_CLASS_NAMES.map((name) => classes[name].pulses)).toEqual(counts.slice(1, 8));
        expect(LEDGER_CLASS_NAMES.map((name) => classes[name].ms)).toEqual(times.slice(1, 8));
      }),
    );
  });
});

test('an alarm carries its evidence, and what to do about it', () => {
  const advice = {
    ...{ consequence: 'erosion', action: 'measure', rationale: 'twice the quietest', class: 'condition' },
    timeToRespondMs: 3_600_000,
  };
  const message = writeAlarm(alarm, advice);
  expect(alarmSchema.parse(message)).toEqual(message);
  expect(message).toMatchObject({
    since: null,
    shelved_until: '2026-03-02T06:00:00.000Z',
    action: 'measure',
    rationale: 'twice the quietest',
    class: 'condition',
    time_to_respond_ms: 3_600_000,
    evidence: { run_states: [{ state: 'unknown' }], deadband_per_min: null },
  });
  expect(writeAlarm({ ...alarm, evidence: null }, { ...advice, timeToRespondMs: null })).toMatchObject({
    evidence: null,
    time_to_respond_ms: null,
  });
});

test('a journal entry keeps both of its times', () => {
  const entry: JournalEntry = {
    at: START,
    detectedAt: START + 16_204,
    kind: 'operator',
    subject: alarm.id,
    from: 'unacknowledged',
    to: 'acknowledged',
    who: 'JM',
    text: 'seen',
    what: 'acknowledged',
    annunciated: false,
    configuration: 'a1b2',
    evidence: null,
  };
  const message = writeJournal(entry);
  expect(journalSchema.parse(message)).toEqual(message);
  expect(message).toMatchObject({ at: '2026-03-02T06:00:00.000Z', detected_at: '2026-03-02T06:00:16.204Z' });
  expect(writeJournal({ ...entry, evidence }).evidence?.says).toBe('enough');
});

test('the presence of the gateway', () => {
  const message = writeGatewayPresence(false, START, '0.1.0', 'a1b2', START - 1000);
  expect(gatewayPresenceSchema.parse(message)).toEqual(message);
});
