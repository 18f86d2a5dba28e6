/** Any damage to a file ends in problems with a place in that file, never in an exception. */
import { readFileSync } from 'node:fs';
import * as fc from 'fast-check';
import { expect, test } from 'vitest';
import { parseConfig } from '../../src/config/parse.js';

const SOUND = `${readFileSync('config/tarn-hollow.yaml', 'utf8')}
gate: { capMs: 120000 }
common: { tail: 0.0001 }
`.replace(
  'mqtt:\n',
  'mqtt:\n  users: [{ name: gw, passwordEnv: GW, role: drive, motors: ["booster-{1..6}"] }]\n',
);

const WORDS = [
  '{}',
  '[]',
  'null',
  'false',
  '~',
  '-1',
  '1e999',
  '.nan',
  '"{1..9}"',
  '*a',
  '&a',
  '!!set',
  '? ',
  '- ',
  '{',
  '}',
  '[',
  ': ',
  '\n',
  '\t',
  '#',
  '__proto__',
  'constructor',
  'password',
  '"',
];

const mutation = fc.record({
  at: fc.nat(SOUND.length - 1),
  drop: fc.nat(24),
  put: fc.oneof(fc.constantFrom(...WORDS), fc.string({ maxLength: 4, unit: 'grapheme' })),
});

/** Whole tokens are replaced as well, for those get through YAML and reach the schema. */
const TOKENS = [...SOUND.matchAll(/(?<=[:,{[] )[^\s,{}[\]:]+|[A-Za-z][\w-]*(?=:)/g)];
const replacement = fc.record({
  token: fc.nat(TOKENS.length - 1),
  put: fc.constantFrom(...WORDS.slice(0, 9), 'x', '3', 'booster-1', 'de', 'nde', 'heartbeatMS'),
});

function expectPlaces(text: string): void {
  const result = parseConfig(text, 'x.yaml');
  if (result.ok) return;
  const lines = text.split('\n').length;
  expect(result.problems.length).toBeGreaterThan(0);
  for (const problem of result.problems) {
    expect(problem.line).toBeGreaterThan(0);
    expect(problem.line).toBeLessThanOrEqual(lines + 1);
    expect(problem.column).toBeGreaterThan(0);
    expect(problem.expected).not.toContain('Invalid');
    expect(problem.found).not.toBe('');
  }
}

test('the file that is damaged below is sound', () => {
  expect(parseConfig(SOUND, 'x.yaml').ok).toBe(true);
});

test('damaged text', () => {
  fc.assert(
    fc.property(fc.array(mutation, { minLength: 1, maxLength: 3 }), (mutations) => {
      expectPlaces(
        mutations.reduce((text, { at, drop, put }) => text.slice(0, at) + put + text.slice(at + drop), SOUND),
      );
    }),
    { numRuns: 300 },
  );
});

test('damaged values', () => {
  fc.assert(
    fc.property(fc.array(replacement, { minLength: 1, maxLength: 5 }), (replacements) => {
      const sorted = [...replacements].sort((a, b) => b.token - a.token);
      expectPlaces(
        sorted.reduce((text, { token, put }) => {
          const match = TOKENS[token];
          return match === undefined
            ? text
            : text.slice(0, match.index) + put + text.slice(match.index + match[0].length);
        }, SOUND),
      );
    }),
    { numRuns: 500 },
  );
});
