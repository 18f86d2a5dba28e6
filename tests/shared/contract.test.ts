/** The generated documents and the examples against the contract, and the contract against the words of the core. */
import { readdirSync, readFileSync } from 'node:fs';
import { Parser } from '@asyncapi/parser';
import { describe, expect, test } from 'vitest';
import { ALARM_STATES } from '../../shared/alarm-terms.js';
import { actBody } from '../../shared/api.js';
import { asyncApiDocument } from '../../shared/asyncapi.js';
import { CATALOGUE } from '../../shared/catalogue.js';
import { contractFiles } from '../../shared/contract-files.js';
import { EXAMPLE_SITE, EXAMPLES } from '../../shared/examples.js';
import type { Read } from '../../shared/fields.js';
import { LEDGER_CLASS_NAMES } from '../../shared/ledger-terms.js';
import { readDrivePresence, readDriveState, readReading, readSensorPresence } from '../../shared/messages.js';
import { matchesFilter } from '../../shared/topic-filters.js';
import { parseTopic, PERIODS } from '../../shared/topics.js';
import type { AlarmState } from '../../src/core/alarm-rows.js';
import { CLASS_NAMES, LEDGER_CLASSES, PERIOD_MS } from '../../src/core/words.js';

const root = new URL('../../', import.meta.url);
const { version } = JSON.parse(readFileSync(new URL('package.json', root), 'utf8')) as { version: string };
const generated = new URL('shared/generated/', root);

/** Severities as the parser counts them. */
const ERROR = 0;
const WARNING = 1;

describe('generated documents', () => {
  const files = contractFiles(version);

  test.each([...files.keys()])('%s is what the contract makes now (else run: npm run contract)', (name) => {
    expect(readFileSync(new URL(name, generated), 'utf8')).toBe(files.get(name));
  });

  test('there is no other document beside them', () => {
    expect(readdirSync(generated).sort()).toEqual([...files.keys()].sort());
  });
});

describe('the AsyncAPI document', () => {
  const parser = new Parser();

  test('is valid', async () => {
    const { document, diagnostics } = await parser.parse(JSON.stringify(asyncApiDocument(version)));
    const faults = diagnostics.filter(({ severity }) => Number(severity) <= WARNING);
    expect(faults.map(({ message, path }) => `${path.join('.')}: ${message}`)).toEqual([]);
    expect(document?.channels().all()).toHaveLength(CATALOGUE.length);
    expect(document?.operations().all()).toHaveLength(CATALOGUE.length);
  });

  test.each([
    ['a type that is none', '"type":"integer"', '"type":"number of pulses"'],
    ['a reference into nothing', '#/channels/rate"', '#/channels/rates"'],
    ['an action that is none', '"action":"send"', '"action":"publish"'],
  ])('would not be valid with %s', async (_, right, wrong) => {
    const text = JSON.stringify(asyncApiDocument(version));
    expect(text).toContain(right);
    const { diagnostics } = await parser.parse(text.replace(right, wrong));
    expect(diagnostics.filter(({ severity }) => Number(severity) === ERROR).length).toBeGreaterThan(0);
  });

  test('names each topic that the contract has', () => {
    const text = JSON.stringify(asyncApiDocument(version));
    for (const { address } of CATALOGUE) expect(text).toContain(`"address":"${address}"`);
  });
});

describe('examples', () => {
  test('there is one for each message of the catalogue, and none besides', () => {
    expect(CATALOGUE.map(({ name }) => name).sort()).toEqual(Object.keys(EXAMPLES).sort());
  });

  test.each(CATALOGUE.map((entry) => [entry.name, entry] as const))('%s fits its schema', (_, entry) => {
    expect(entry.schema.safeParse(entry.example.payload).error?.issues ?? []).toEqual([]);
  });

  test.each(CATALOGUE.map((entry) => [entry.name, entry] as const))(
    '%s: another field is allowed',
    (_, entry) => {
      const more: unknown = { ...entry.example.payload, field_of_tomorrow: 1 };
      expect(entry.schema.safeParse(more).success).toBe(true);
    },
  );

  test.each(CATALOGUE.map((entry) => [entry.name, entry] as const))(
    '%s goes to its own topic',
    (name, entry) => {
      const parsed = parseTopic(entry.example.topic, EXAMPLE_SITE);
      expect(parsed.kind === 'out' ? parsed.message : parsed.kind).toBe(name);
      expect(entry.direction === 'out').toBe(parsed.kind === 'out');
      expect(matchesFilter(entry.address.replace(/\{[a-z]+\}/g, '+'), entry.example.topic)).toBe(true);
    },
  );

  test.each<[keyof typeof EXAMPLES, (json: unknown) => Read<unknown>]>([
    ['reading', readReading],
    ['sensor-presence', readSensorPresence],
    ['drive-state', readDriveState],
    ['drive-presence', readDrivePresence],
  ])('%s is read by the gateway', (name, read) => {
    expect(read(EXAMPLES[name].payload)).toMatchObject({ ok: true });
  });
});

describe('the words of the contract are those of the core', () => {
  test('classes, in the order of their numbers', () => {
    expect(LEDGER_CLASS_NAMES).toEqual(LEDGER_CLASSES.map((number) => CLASS_NAMES[number]));
    expect(LEDGER_CLASSES.map((number) => number - 1)).toEqual([...LEDGER_CLASS_NAMES.keys()]);
  });

  test('periods', () => {
    expect([...PERIODS]).toEqual(Object.keys(PERIOD_MS));
  });

  test('alarm states', () => {
    const states: readonly AlarmState[] = ALARM_STATES;
    expect(new Set(states).size).toBe(ALARM_STATES.length);
  });
});

test('an acknowledgement needs a name; the note may be left out; a misspelt field is refused', () => {
  expect(actBody.parse({ who: ' JM ' })).toEqual({ who: 'JM', note: '' });
  expect(actBody.safeParse({ who: '  ' }).success).toBe(false);
  expect(actBody.safeParse({ who: 'JM', notes: 'seen' }).success).toBe(false);
});
