/** The generated documents as files: name and text. Writing and checking them are done elsewhere, from this one list. */
import { asyncApiDocument } from './asyncapi.js';
import { CATALOGUE } from './catalogue.js';
import { messageJsonSchema, recordJsonSchema } from './json-schema.js';
import { RECORDS } from './records.js';

/** Names are relative to the folder of the generated documents; `version` is that of the program. */
export function contractFiles(version: string): ReadonlyMap<string, string> {
  const files = new Map<string, string>([['asyncapi.json', toText(asyncApiDocument(version))]]);
  for (const entry of CATALOGUE) files.set(`${entry.name}.schema.json`, toText(messageJsonSchema(entry)));
  for (const record of RECORDS) files.set(`${record.name}.schema.json`, toText(recordJsonSchema(record)));
  return files;
}

function toText(document: Record<string, unknown>): string {
  return `${JSON.stringify(document, null, 2)}\n`;
}
