/** Requests to the gateway. Every refusal comes back as one error that says what happened and what to do. */
import { checkSession } from './session-check.js';
import { isLoginNeeded, needLogin } from './session.js';

const PATIENCE_MS = 20_000;
/** Status of a refusal: there is no such thing, or no more. */
export const GONE_STATUS = 404;

/** A refusal of the gateway (its problem details), or no answer at all (status 0). */
export class ApiProblem extends Error {
  constructor(
    readonly status: number,
    readonly title: string,
    readonly detail: string,
    /** what to do; empty: nothing is known */
    readonly hint: string,
    /** the refusal in a word, where there are several; empty: none */
    readonly reason: string,
    readonly faults: readonly { readonly name: string; readonly fault: string }[],
  ) {
    super(detail === '' ? title : detail);
  }
}

/** What any failure looks like to a reader. */
export function toProblem(error: unknown): ApiProblem {
  if (error instanceof ApiProblem) return error;
  const says = error instanceof Error ? error.message : String(error);
  return new ApiProblem(0, 'The page failed', says, 'Load the page again.', '', []);
}

const SILENT = [
  'The gateway does not answer',
  'Nothing came back from it.',
  'It may restart just now: try again.',
] as const;

async function readProblem(response: Response): Promise<ApiProblem> {
  const body = (await response.json().catch(() => ({}))) as {
    title?: string;
    detail?: string;
    hint?: string;
    reason?: string;
    faults?: { name: string; fault: string }[];
  };
  const title = body.title ?? `The gateway answered ${response.status}`;
  return new ApiProblem(
    response.status,
    title,
    body.detail ?? '',
    body.hint ?? '',
    body.reason ?? '',
    body.faults ?? [],
  );
}

async function send(
  method: string,
  path: string,
  body: unknown,
  signal: AbortSignal | undefined,
): Promise<Response> {
  const patience = AbortSignal.timeout(PATIENCE_MS);
  try {
    return await fetch(path, {
      method,
      signal: signal === undefined ? patience : AbortSignal.any([signal, patience]),
      ...(body === undefined
        ? {}
        : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
    });
  } catch (error) {
    if (signal?.aborted === true) throw error;
    throw new ApiProblem(0, ...SILENT, '', []);
  }
}

const SESSION_PATH = '/api/v1/session';

/** What somebody wrote stays where it is while the login is asked for. */
function tellUnsent(problem: ApiProblem): ApiProblem {
  const hint = 'What you wrote is still here: send it again.';
  return new ApiProblem(
    401,
    'Not sent',
    'Your login was over before it could be sent.',
    hint,
    problem.reason,
    [],
  );
}

async function ask<T>(method: string, path: string, body?: unknown, signal?: AbortSignal): Promise<T> {
  // a view that waits behind the login asks for nothing
  if (isLoginNeeded.value && path !== SESSION_PATH)
    throw new ApiProblem(401, 'Not logged in', 'The login is asked for first.', '', '', []);
  const response = await send(method, path, body, signal);
  if (!response.ok) {
    const problem = await readProblem(response);
    if (problem.status === 401) needLogin();
    if (problem.status === 401 && method === 'POST' && path !== SESSION_PATH) throw tellUnsent(problem);
    // the login may do less than the page thought: what it may not is offered no longer
    if (problem.status === 403 && problem.reason === 'role') void checkSession();
    throw problem;
  }
  const text = await response.text();
  return (text === '' ? null : JSON.parse(text)) as T;
}

type Parameters = Readonly<Record<string, string | number | null | undefined>>;

/** `/path?name=value`, without the parameters that are null, undefined or empty. */
export function addressOf(path: string, parameters: Parameters = {}): string {
  const search = new URLSearchParams();
  for (const [name, value] of Object.entries(parameters)) {
    if (value !== null && value !== undefined && value !== '') search.set(name, String(value));
  }
  const text = search.toString();
  return `/api/v1${path}${text === '' ? '' : `?${text}`}`;
}

/** `path` below /api/v1. Rejects with `ApiProblem`, or as `signal` does when it aborts. */
export function fetchBody<T>(path: string, parameters: Parameters = {}, signal?: AbortSignal): Promise<T> {
  return ask<T>('GET', addressOf(path, parameters), undefined, signal);
}

/** Likewise. */
export function postBody<T>(path: string, body: object): Promise<T> {
  return ask<T>('POST', addressOf(path), body);
}

/** Likewise. */
export function deleteAt<T>(path: string): Promise<T> {
  return ask<T>('DELETE', addressOf(path));
}
