/** Which keys a place of the schema knows: the candidates for a did-you-mean. */
import type * as z from 'zod';
import type { Path } from './problem.js';

/** All keys that a mapping at `path` may have; none where the schema allows any name or no mapping. */
export function keysAt(schema: z.core.$ZodType, path: Path): string[] {
  let here = alternatives(schema);
  for (const part of path) here = here.flatMap((one) => enter(one, part)).flatMap(alternatives);
  const keys = here.flatMap((one) => {
    const definition = (one as z.core.$ZodTypes)._zod.def;
    return definition.type === 'object' ? Object.keys(definition.shape) : [];
  });
  // kinds of one thing have keys in common
  return [...new Set(keys)];
}

/** The schema behind defaults, nulls and unions. */
function alternatives(schema: z.core.$ZodType): z.core.$ZodType[] {
  const definition = (schema as z.core.$ZodTypes)._zod.def;
  if ('innerType' in definition) return alternatives(definition.innerType);
  return definition.type === 'union' ? definition.options.flatMap(alternatives) : [schema];
}

function enter(schema: z.core.$ZodType, part: string | number): z.core.$ZodType[] {
  const definition = (schema as z.core.$ZodTypes)._zod.def;
  if (definition.type === 'record') return [definition.valueType];
  if (definition.type === 'array') return [definition.element];
  const inner = definition.type === 'object' ? definition.shape[String(part)] : undefined;
  return inner === undefined ? [] : [inner];
}
