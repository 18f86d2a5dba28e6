/** The schema of the file as JSON Schema, for editors that complete and check while one types. */
import * as z from 'zod';
import { FileSchema } from './schema.js';

/** JSON Schema 2020-12 of the file as written: everything with a default may be missing. */
export function configJsonSchema(): Record<string, unknown> {
  const schema = z.toJSONSchema(FileSchema, { io: 'input' }) as Record<string, unknown>;
  return { $schema: schema.$schema, title: 'Tallypost configuration', ...schema };
}
