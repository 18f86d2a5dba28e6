/** The generated JSON Schemas, judged by a validator that is not the one they were generated from. */
import { Ajv2020 } from 'ajv/dist/2020.js';
import { Ajv } from 'ajv';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CATALOGUE, type CatalogueEntry } from '../../shared/catalogue.js';
import { messageJsonSchema, payloadSchema } from '../../shared/json-schema.js';
import { readTime } from '../../shared/time.js';
import { driveStates, readings } from './arbitrary-messages.js';

const formats = { 'date-time': (text: string) => readTime(text) !== null };
const current = new Ajv2020({ strict: true, allowUnionTypes: true, formats });
const draft7 = new Ajv({ strict: true, allowUnionTypes: true, formats });
const entries = CATALOGUE.map((entry) => [entry.name, entry] as const);

function entryOf(name: string): CatalogueEntry {
  const found = CATALOGUE.find((entry) => entry.name === name);
  if (found === undefined) throw new Error(`the catalogue has no ${name}`);
  return found;
}

describe.each(entries)('%s', (_, entry) => {
  const full = current.compile(messageJsonSchema(entry));
  const part = draft7.compile(payloadSchema(entry));

  test('its example is valid, also with a field more', () => {
    expect(full(entry.example.payload), JSON.stringify(full.errors)).toBe(true);
    expect(part(entry.example.payload), JSON.stringify(part.errors)).toBe(true);
    expect(full({ ...entry.example.payload, field_of_tomorrow: 1 })).toBe(true);
  });

  test('a list, a bare number and an empty object are not', () => {
    for (const wrong of [[], 17, {}]) expect(full(wrong)).toBe(false);
  });

  test('each field of its example, made a list of nothing, is refused where the contract refuses it', () => {
    for (const field of Object.keys(entry.example.payload)) {
      const odd: unknown = { ...entry.example.payload, [field]: [] };
      expect(full(odd), field).toBe(entry.schema.safeParse(odd).success);
    }
  });
});

test.each([
  ['reading', readings],
  ['drive-state', driveStates],
] as const)('%s: schema and contract agree on whatever JSON can say', (name, messages) => {
  const entry = entryOf(name);
  const validate = current.getSchema(`urn:tallypost:message:${name}`);
  fc.assert(
    fc.property(messages, (message) => {
      const text = writeJson(message);
      if (text === undefined) return;
      const json: unknown = JSON.parse(text);
      expect(validate?.(json)).toBe(entry.schema.safeParse(json).success);
    }),
    { numRuns: 5000 },
  );
});

/** Undefined: JSON cannot say it. */
function writeJson(found: unknown): string | undefined {
  try {
    return JSON.stringify(found);
  } catch {
    return undefined;
  }
}
