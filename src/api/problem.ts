/**
 * Errors of the HTTP interface as problem documents: what went wrong, where, and what to do about it.
 * Source: RFC 9457 (application/problem+json).
 */

export interface Problem {
  /** stable short name of the kind of problem, below `/api/v1/problems/` */
  readonly type: string;
  readonly title: string;
  readonly status: number;
  /** what happened this time */
  readonly detail: string;
  /** what the caller can do */
  readonly hint: string;
  /** the refusal in a word, for programs */
  readonly reason?: string;
  /** wrong parameters or fields, by name */
  readonly faults?: readonly { readonly name: string; readonly fault: string }[];
}

export const PROBLEM_MEDIA_TYPE = 'application/problem+json; charset=utf-8';

/** Thrown by handlers; the server's error handler writes it out. */
export class ProblemError extends Error {
  constructor(readonly problem: Problem) {
    super(problem.detail);
  }
}

const TYPE_BASE = '/api/v1/problems/';

export function describeNotFound(detail: string, hint: string): Problem {
  return { type: `${TYPE_BASE}not-found`, title: 'Not found', status: 404, detail, hint };
}

export function describeInvalid(faults: readonly { name: string; fault: string }[], hint: string): Problem {
  const first = faults[0];
  const detail = first === undefined ? 'The request is not valid.' : `${first.name}: ${first.fault}`;
  return { type: `${TYPE_BASE}invalid-request`, title: 'Invalid request', status: 400, detail, hint, faults };
}

export function describeConflict(detail: string, hint: string): Problem {
  return { type: `${TYPE_BASE}conflict`, title: 'Conflict', status: 409, detail, hint };
}

export function describeForbidden(detail: string, hint: string): Problem {
  return { type: `${TYPE_BASE}forbidden`, title: 'Forbidden', status: 403, detail, hint };
}

export function describeMediaType(detail: string, hint: string): Problem {
  return { type: `${TYPE_BASE}media-type`, title: 'Unsupported media type', status: 415, detail, hint };
}

export function describeBusy(detail: string, hint: string): Problem {
  return { type: `${TYPE_BASE}busy`, title: 'Try again later', status: 503, detail, hint };
}

/** Nothing can be stored just now. */
export function describeNotReady(detail: string, hint: string): Problem {
  return { type: `${TYPE_BASE}not-ready`, title: 'Not ready', status: 503, detail, hint };
}

export function describeUnbuilt(): Problem {
  const detail = 'This checkout has no built page.';
  const hint = 'Run npm run build, and start the gateway again.';
  return { type: `${TYPE_BASE}unbuilt-page`, title: 'The page was not built', status: 503, detail, hint };
}

export function describeFault(detail: string): Problem {
  const hint = "The gateway's log carries the details under the same request id.";
  return { type: `${TYPE_BASE}fault`, title: 'Internal fault', status: 500, detail, hint };
}
