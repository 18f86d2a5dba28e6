/** What people may enter about a motor, and what each kind of action means for the counts. */
import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { describeFinding, FAILURE_MODES } from '../../shared/inspection-terms.js';
import { recordJsonSchema } from '../../shared/json-schema.js';
import { actionRequest, findingRequest, withdrawRequest } from '../../shared/maintenance.js';
import {
  ACTION_KINDS,
  ACTIONS,
  breaksComparability,
  describeAction,
  isAtPlace,
} from '../../shared/maintenance-terms.js';
import { RECORDS } from '../../shared/records.js';
import { readTime } from '../../shared/time.js';

const by = 'J. Field';

function faultOf(
  schema: typeof actionRequest | typeof findingRequest | typeof withdrawRequest,
  found: object,
) {
  const result = schema.safeParse(found);
  return result.success
    ? ''
    : `${result.error.issues[0]?.path.join('.')}: ${result.error.issues[0]?.message}`;
}

describe('an action', () => {
  test.each([
    [{ action: 'regreased', by }, ''],
    [{ action: 'bearing-replaced', end: 'both', bearing: 'hybrid', by }, ''],
    [{ action: 'bearing-replaced', bearing: 'same', by }, 'end: bearing-replaced has to say which end'],
    [{ action: 'bearing-replaced', end: 'de', by }, 'bearing: expected what it was replaced by'],
    [{ action: 'regreased', end: 'de', bearing: 'same', by }, 'bearing: only bearing-replaced has one'],
    [{ action: 'other', by }, 'note: "other" says nothing'],
    [{ action: 'other', by, note: 'coupling aligned' }, ''],
    [{ action: 'insulated', by }, 'action: '],
    [{ action: 'regreased' }, 'by: '],
    [{ action: 'regreased', by: '   ' }, 'by: '],
    [{ action: 'regreased', by, at: '2026-02-30T00:00:00Z' }, 'at: '],
    [{ action: 'regreased', by, end: 'Drive End' }, 'end: '],
    [{ action: 'regreased', by, diagnosis: 'fluting' }, ': Unrecognized key'],
    [{ action: 'regreased', by, note: 'x'.repeat(501) }, 'note: '],
    [{ action: 'regreased', by, note: 'first line\n\tand another, naïve' }, ''],
    [{ action: 'regreased', by, note: 'red \u001b[31m' }, 'note: expected text without control'],
    [{ action: 'regreased', by: 'J.\nField' }, 'by: expected text without control'],
    [{ action: 'regreased', by, note: 'half \ud800' }, 'note: expected text without control'],
  ])('%j -> %s', (entry, fault) => {
    const found = faultOf(actionRequest, entry);
    if (fault === '') expect(found).toBe('');
    else expect(found.startsWith(fault), found).toBe(true);
  });

  test('without an end is of the whole motor, without a time of now', () => {
    expect(actionRequest.parse({ action: 'regreased', by })).toEqual({
      ...{ action: 'regreased', end: null, bearing: null, by, note: '' },
    });
  });

  test('what breaks comparability is what the design lists, and nothing else', () => {
    expect(ACTION_KINDS.filter((kind) => ACTIONS[kind].breaks !== 'nothing')).toEqual([
      'common-mode-filter',
      'cable-or-bonding',
      'bearing-replaced',
      'regreased',
      'sensor-moved',
      'device-swapped',
      'drive-settings-changed',
    ]);
  });

  test.each([
    ['bearing-replaced', 'nde', 'de', true],
    ['sensor-moved', 'nde', 'de', false],
    ['sensor-moved', 'nde', 'nde', true],
    ['sensor-moved', null, 'de', true],
    ['device-swapped', 'both', 'coupling', false],
    ['earthing-improved', null, 'de', false],
  ] as const)('%s at %s: the counts at %s are void: %s', (kind, end, position, isVoid) => {
    expect(breaksComparability(kind, end, position)).toBe(isVoid);
  });

  test('at both ends is at de and nde, and at no other place', () => {
    expect(['de', 'nde', 'coupling'].map((place) => isAtPlace('both', place))).toEqual([true, true, false]);
  });

  test('reads as a sentence', () => {
    const entry = { action: 'bearing-replaced', end: 'nde', bearing: 'insulated', note: 'was dry' } as const;
    expect(describeAction(entry)).toBe('bearing replaced by an insulated one, non-drive end: was dry');
    expect(describeAction({ ...entry, action: 'regreased', end: null, bearing: null, note: '' })).toBe(
      'regreased',
    );
  });
});

describe('a finding', () => {
  const entry = { end: 'de', by };
  test.each([
    [{ ...entry, signs: ['frosting', 'fluting'] }, ''],
    [{ ...entry, modes: ['none'], lubricant: ['fresh'] }, ''],
    [{ ...entry, note: 'not opened, noise only' }, ''],
    [entry, 'modes: it says nothing'],
    [{ ...entry, signs: ['none', 'fluting'] }, 'signs: "none" stands alone'],
    [{ ...entry, lubricant: ['fresh', 'burnt'] }, 'lubricant: "fresh" stands alone'],
    [{ ...entry, signs: ['craters', 'craters'] }, 'signs: a word is given twice'],
    [{ ...entry, modes: ['sparking'] }, 'modes.0: '],
    [{ ...entry, end: 'both', signs: ['none'] }, 'end: a finding is of one bearing'],
    [{ by, signs: ['none'] }, 'end: '],
  ])('%j -> %s', (found, fault) => {
    const told = faultOf(findingRequest, found);
    if (fault === '') expect(told).toBe('');
    else expect(told.startsWith(fault), told).toBe(true);
  });

  test('each sub-mode belongs to a main mode', () => {
    const modes: Readonly<Record<string, { within: string | null }>> = FAILURE_MODES;
    for (const [name, { within }] of Object.entries(modes))
      if (within !== null) expect(modes[within]?.within, name).toBeNull();
    expect(FAILURE_MODES['current-leakage-erosion'].within).toBe('electrical-erosion');
  });

  test('reads as a sentence, without what was not looked at', () => {
    const found = { modes: [], signs: ['frosting'], lubricant: ['burnt', 'dry'], note: '' } as const;
    expect(describeFinding(found)).toBe('visible signs: frosting; lubricant burnt, dry');
  });
});

test('a withdrawal says why', () => {
  expect(faultOf(withdrawRequest, { by, note: ' ' })).toMatch(/^note: /);
});

describe.each(RECORDS.map((record) => [record.name, record] as const))('%s', (_, record) => {
  const formats = { 'date-time': (text: string) => readTime(text) !== null };
  const validate = new Ajv2020({ strict: true, allowUnionTypes: true, formats }).compile(
    recordJsonSchema(record),
  );

  test('its example fits the schema and the document made from it', () => {
    expect(record.schema.safeParse(record.example).error?.issues ?? []).toEqual([]);
    expect(validate(record.example), JSON.stringify(validate.errors)).toBe(true);
    expect(validate({})).toBe(false);
  });
});
