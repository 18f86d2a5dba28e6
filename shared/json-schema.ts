/** JSON Schema of each message, generated from the same schemas that the gateway reads and writes by. */
import { z } from 'zod';
import type { CatalogueEntry } from './catalogue.js';
import type { RecordEntry } from './records.js';

export type JsonSchema = Record<string, unknown>;

/** A document of its own, draft 2020-12. */
export function messageJsonSchema(entry: CatalogueEntry): JsonSchema {
  const { $schema, ...rest } = convert(entry.schema, 'draft-2020-12');
  return {
    $schema,
    $id: `urn:tallypost:message:${entry.name}`,
    title: entry.title,
    ...rest,
    examples: [entry.example.payload],
  };
}

/** The same for a record that people enter or get over HTTP. */
export function recordJsonSchema(record: RecordEntry): JsonSchema {
  const { $schema, ...rest } = convert(record.schema, 'draft-2020-12');
  const { name, title, example } = record;
  return { $schema, $id: `urn:tallypost:record:${name}`, title, ...rest, examples: [example] };
}

/** As a part of another document, in the dialect that AsyncAPI takes by default (draft 7). */
export function payloadSchema(entry: CatalogueEntry): JsonSchema {
  const schema = convert(entry.schema, 'draft-7');
  delete schema['$schema'];
  return schema;
}

/** What may be sent, not what the gateway makes of it: the input side of the schema; unknown fields stay allowed. */
function convert(schema: z.ZodType, target: 'draft-2020-12' | 'draft-7'): JsonSchema {
  return z.toJSONSchema(schema, { target, io: 'input' });
}
