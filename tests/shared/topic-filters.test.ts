import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { coversFilter, isValidFilter, isValidTopic, matchesFilter } from '../../shared/topic-filters.js';
import { takeRecord, title } from '../published/published.js';

const matching = takeRecord<{ pairs: [string, string][] }, { match: boolean[] }>('K01-mqtt-4.7.1-wildcards');
const validity = takeRecord<{ filters: string[] }, { valid: boolean[] }>('K02-mqtt-4.7.1-valid-filters');

describe(title(matching), () => {
  test.each(matching.inputs.pairs.map(([filter, topic], i) => [filter, topic, matching.expected.match[i]]))(
    '%s on %s: %s',
    (filter, topic, expected) => {
      expect(matchesFilter(String(filter), String(topic))).toBe(expected);
    },
  );
});

describe(title(validity), () => {
  test.each(validity.inputs.filters.map((filter, i) => [filter, validity.expected.valid[i]]))(
    'filter %j is valid: %s',
    (filter, expected) => {
      expect(isValidFilter(String(filter))).toBe(expected);
    },
  );
});

describe('MQTT 3.1.1, sections 4.7.2 and 4.7.3', () => {
  test.each([
    ['#', '$SYS/uptime', false],
    ['+/uptime', '$SYS/uptime', false],
    ['$SYS/#', '$SYS/uptime', true],
    ['$SYS/+', '$SYS/uptime', true],
    ['/finance', 'finance', false],
    ['ACCOUNTS', 'Accounts', false],
    ['a//b', 'a//b', true],
    ['a/+/b', 'a//b', true],
    ['a/#', 'a/', true],
    ['a', 'a/', false],
  ])('%s on %s: %s', (filter, topic, expected) => {
    expect(matchesFilter(filter, topic)).toBe(expected);
  });

  test('a topic or filter is at most 65,535 bytes of UTF-8, and neither empty nor with a NUL', () => {
    expect(isValidTopic('a'.repeat(65_535))).toBe(true);
    expect(isValidTopic('a'.repeat(65_536))).toBe(false);
    expect(isValidFilter('é'.repeat(32_767))).toBe(true);
    expect(isValidFilter('é'.repeat(32_768))).toBe(false);
    for (const text of ['', 'a\0']) {
      expect(isValidTopic(text)).toBe(false);
      expect(isValidFilter(text)).toBe(false);
    }
    expect(isValidTopic('a/+')).toBe(false);
    expect(isValidTopic('a/#')).toBe(false);
  });
});

const levels = fc.array(fc.constantFrom('a', 'b', '', '$x', '+'), { minLength: 1, maxLength: 4 });
const filters = fc
  .tuple(levels, fc.boolean())
  .map(([parts, open]) => [...parts, ...(open ? ['#'] : [])].join('/'))
  .filter(isValidFilter);

test('a filter that is covered by another takes no topic that the other does not take', () => {
  const names = fc.array(fc.constantFrom('a', 'b', '', '$x'), { minLength: 1, maxLength: 5 });
  const topic = names.map((parts) => parts.join('/')).filter(isValidTopic);
  fc.assert(
    fc.property(filters, filters, topic, (grant, filter, name) => {
      if (coversFilter(grant, filter) && matchesFilter(filter, name))
        expect(matchesFilter(grant, name)).toBe(true);
    }),
    { numRuns: 20_000 },
  );
});

test.each([
  ['tarn-hollow/out/#', 'tarn-hollow/out/#', true],
  ['tarn-hollow/out/#', 'tarn-hollow/out/+/+/rate', true],
  ['tarn-hollow/out/#', 'tarn-hollow/out', true],
  ['tarn-hollow/out/#', 'tarn-hollow/#', false],
  ['tarn-hollow/out/#', '#', false],
  ['tarn-hollow/out/+/+/rate', 'tarn-hollow/out/booster-1/+/rate', true],
  ['tarn-hollow/out/+/+/rate', 'tarn-hollow/out/#', false],
  ['tarn-hollow/out/+', 'tarn-hollow/out/a/b', false],
  ['#', '$SYS/#', false],
])('a grant of %s covers a subscription to %s: %s', (grant, filter, expected) => {
  expect(coversFilter(grant, filter)).toBe(expected);
});
