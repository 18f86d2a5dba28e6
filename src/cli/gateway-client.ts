/** Commands that ask a running gateway over HTTP: one JSON request, and an error that says what to do. */
import { formatEndpoint } from '../config/endpoint.js';
import { type Arguments, CommandFailure, UsageError } from './command.js';
import { endpointOf } from './config-argument.js';
import { findGateway } from './gateway-file.js';
import { LOGIN_HINT, loginHeaders } from './gateway-login.js';

const TIMEOUT_MS = 30_000;

/** The gateway says no: 404 there is no such thing, 409 it stands otherwise. */
export class GatewayRefusal extends Error {
  constructor(
    readonly status: number,
    message: string,
    readonly hint: string,
    /** the refusal in a word; empty: there is one only */
    readonly reason = '',
  ) {
    super(message);
  }
}

/** Where to ask: `--http` when given, else the gateway that runs on `dataDir`; null: none is known. */
export function findAddress(args: Arguments, dataDir: string | null): string | null {
  const endpoint = endpointOf(args, 'http');
  if (endpoint !== null) return `http://${formatEndpoint(endpoint)}`;
  return dataDir === null ? null : (findGateway(dataDir)?.http ?? null);
}

/**
 * The JSON answer. `body` null: a GET. Throws `UsageError` when the request is at fault, `GatewayRefusal`, or
 * `CommandFailure` when nobody answers or the gateway cannot.
 */
export async function askGateway(base: string, path: string, body: object | null): Promise<unknown> {
  let response: Response;
  try {
    response = await fetch(base + path, {
      ...(body === null
        ? { headers: loginHeaders() }
        : {
            method: 'POST',
            headers: { 'content-type': 'application/json', ...loginHeaders() },
            body: JSON.stringify(body),
          }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
  } catch (error) {
    if (error instanceof CommandFailure) throw error;
    const cause = error instanceof Error && error.cause instanceof Error ? error.cause : error;
    throw new CommandFailure(
      `No gateway answers on ${base} (${cause instanceof Error ? cause.message : String(cause)}).`,
      'Start it, or name the address that it printed at its start with --http.',
    );
  }
  const answer = (await response.json().catch(() => null)) as {
    detail?: unknown;
    hint?: unknown;
    reason?: unknown;
  } | null;
  if (response.ok) return answer;
  const detail =
    typeof answer?.detail === 'string' ? answer.detail : `${base} answers with status ${response.status}.`;
  const reason = typeof answer?.reason === 'string' ? answer.reason : '';
  const hint = typeof answer?.hint === 'string' ? answer.hint : '';
  if (response.status === 401) throw new CommandFailure(detail, LOGIN_HINT);
  if (response.status === 400) throw new UsageError(detail, hint);
  if (response.status === 404 || response.status === 409)
    throw new GatewayRefusal(response.status, detail, hint, reason);
  throw new CommandFailure(detail, hint);
}
