/**
 * The fields that messages are made of, and the sentence that each failing one is answered with.
 * A field's rule is one text, used by the schema and by the hand-written readers alike.
 */
import { z } from 'zod';
import { timeSchema } from './time.js';

/** What a reader returns: a value, or why there is none (field, what was expected, what was found). */
export type Read<T> =
  { readonly ok: true; readonly value: T } | { readonly ok: false; readonly reason: string };

export const OBJECT_RULE = 'a JSON object';
export const COUNT_RULE = `an integer from 0 to ${Number.MAX_SAFE_INTEGER}`;
export const NUMBER_RULE = 'a number';
export const FLAG_RULE = 'true or false';
export const DEVICE_RULE = 'text of 1 to 64 characters without control characters';
export const FIRMWARE_RULE = 'text of 1 to 128 characters without control characters';

/** Counted in code points; lone halves of a surrogate pair are refused, because no store keeps them as they are. */
export const DEVICE_PATTERN = /^[^\p{Cc}\p{Cs}]{1,64}$/u;
export const FIRMWARE_PATTERN = /^[^\p{Cc}\p{Cs}]{1,128}$/u;

export const countField = z.int({ error: COUNT_RULE }).min(0, { error: COUNT_RULE });
export const numberField = z.number({ error: NUMBER_RULE });
export const flagField = z.boolean({ error: FLAG_RULE });
export const deviceField = z.string({ error: DEVICE_RULE }).regex(DEVICE_PATTERN, { error: DEVICE_RULE });
export const firmwareField = z
  .string({ error: FIRMWARE_RULE })
  .regex(FIRMWARE_PATTERN, { error: FIRMWARE_RULE });
export const timeField = timeSchema;

export function isCount(found: unknown): found is number {
  return typeof found === 'number' && Number.isSafeInteger(found) && found >= 0;
}

export function isNumber(found: unknown): found is number {
  return typeof found === 'number' && Number.isFinite(found);
}

export function isDevice(found: unknown): found is string {
  return typeof found === 'string' && DEVICE_PATTERN.test(found);
}

export function isJsonObject(found: unknown): found is Readonly<Record<string, unknown>> {
  return typeof found === 'object' && found !== null && !Array.isArray(found);
}

export function refuse(field: string, expected: string, found: unknown): { ok: false; reason: string } {
  return { ok: false, reason: `${field}: expected ${expected}, found ${tellFound(found)}` };
}

/** Reads `json` by its schema; slower than a hand-written reader, same answers. */
export function readBySchema<T>(schema: z.ZodType<T>, json: unknown): Read<T> {
  const result = schema.safeParse(json);
  if (result.success) return { ok: true, value: result.data };
  const issue = result.error.issues[0];
  const path = issue?.path ?? [];
  const field = path.length === 0 ? 'message' : path.map(String).join('.');
  return refuse(field, issue?.message ?? 'another message', valueAt(json, path));
}

/** Absent: null. Minus zero: zero, because JSON and the store write both alike. */
export function numberOrNull(found: number | undefined): number | null {
  return found === undefined ? null : found + 0;
}

function valueAt(json: unknown, path: readonly PropertyKey[]): unknown {
  let found: unknown = json;
  for (const key of path) {
    if (typeof found !== 'object' || found === null) return undefined;
    found = (found as Record<PropertyKey, unknown>)[key];
  }
  return found;
}

/** Short, whatever was sent. */
function tellFound(found: unknown): string {
  if (found === undefined) return 'nothing';
  if (found === null) return 'null';
  if (typeof found === 'string') {
    return found.length > 60
      ? `${JSON.stringify(found.slice(0, 60))}… (${found.length} characters)`
      : JSON.stringify(found);
  }
  if (Array.isArray(found)) return `a list of ${found.length}`;
  if (typeof found === 'number' || typeof found === 'boolean' || typeof found === 'bigint')
    return String(found);
  return `${typeof found === 'object' ? 'an' : 'a'} ${typeof found}`;
}
