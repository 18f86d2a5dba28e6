/**
 * One route of the versioned interface: its address, its zod schemas and its handler in one value, so that checking and
 * the OpenAPI document can never disagree.
 */
import type { z } from 'zod';
import type { Role } from './access.js';
import type { CsvTable } from './csv.js';
import type { ApiDeps } from './deps.js';

export interface RouteInput<Q, B, P> {
  readonly query: Q;
  readonly body: B;
  readonly params: P;
  /** asked by a screen on the wall, without a login: names and notes of persons are left away */
  readonly isWall: boolean;
}

export interface Route {
  readonly method: 'GET' | 'POST' | 'DELETE';
  /** with `{name}` for parameters, as OpenAPI writes them */
  readonly path: string;
  readonly summary: string;
  readonly query: z.ZodObject;
  readonly params: z.ZodObject;
  /** null: takes no body */
  readonly body: z.ZodObject | null;
  /** who may; absent: `view` to read, `engineer` for everything else */
  readonly need?: Role;
  /** longest body that it takes; absent: as the server has it for all */
  readonly bodyBytesMost?: number;
  readonly response: z.ZodType;
  /** what can be had as CSV: the name of the list that the answer is about, or a table made of it; absent: it is no list */
  readonly list?: string | CsvTable;
  /** other statuses it answers with, and why */
  readonly problems: readonly (readonly [status: number, why: string])[];
  handle(input: RouteInput<unknown, unknown, unknown>, deps: ApiDeps): Promise<unknown>;
}

/** Gives a handler the types of its own schemas. */
export function defineRoute<Q extends z.ZodObject, B extends z.ZodObject, P extends z.ZodObject>(route: {
  method: 'GET' | 'POST' | 'DELETE';
  path: string;
  summary: string;
  query: Q;
  params: P;
  body: B | null;
  need?: Role;
  bodyBytesMost?: number;
  response: z.ZodType;
  list?: string | CsvTable;
  problems?: readonly (readonly [number, string])[];
  handle(input: RouteInput<z.output<Q>, z.output<B>, z.output<P>>, deps: ApiDeps): Promise<unknown>;
}): Route {
  return {
    ...route,
    problems: route.problems ?? [],
    handle: (input, deps) => route.handle(input as never, deps),
  };
}
