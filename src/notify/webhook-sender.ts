/** One attempt to hand a message to a webhook, and what its answer means. */
import type { Notification } from '../../shared/notification.js';
import type { Outcome } from './settle-delivery.js';
import { IDEMPOTENCY_HEADER, SIGNATURE_HEADER, signBody, TIMESTAMP_HEADER } from '../../shared/signature.js';

/** Secrets in the clear: they live in memory only. */
export interface WebhookTarget {
  readonly name: string;
  readonly url: string;
  readonly secret: string;
  /** null: none is asked for */
  readonly authorization: string | null;
  readonly timeoutMs: number;
}

/** Client errors that pass by themselves. Source: RFC 9110 and RFC 8470 (425). */
const PASSING = [408, 425, 429];

/** Never rejects. `signal`: the gateway stops. `now` in ms. */
export async function postWebhook(
  target: WebhookTarget,
  message: Notification,
  now: number,
  signal: AbortSignal,
): Promise<Outcome> {
  const body = JSON.stringify(message);
  const timestamp = Math.floor(now / 1_000);
  const deadline = AbortSignal.timeout(target.timeoutMs);
  try {
    const response = await fetch(target.url, {
      method: 'POST',
      redirect: 'manual',
      headers: {
        'content-type': 'application/json',
        [IDEMPOTENCY_HEADER]: message.id,
        [TIMESTAMP_HEADER]: String(timestamp),
        [SIGNATURE_HEADER]: signBody(target.secret, timestamp, body),
        ...(target.authorization === null ? {} : { authorization: target.authorization }),
      },
      body,
      signal: AbortSignal.any([deadline, signal]),
    });
    await response.body?.cancel().catch(() => undefined); // the status says it all
    return judge(response, now);
  } catch (error) {
    const reason = deadline.aborted ? `no answer within ${target.timeoutMs} ms` : describeError(error);
    return { kind: 'later', scope: 'channel', reason, retryAfterMs: null };
  }
}

function judge({ status, ok, headers }: Response, now: number): Outcome {
  if (ok) return { kind: 'delivered', refused: [], later: [] };
  if (status >= 500 || PASSING.includes(status)) {
    const retryAfterMs = readRetryAfter(headers.get('retry-after'), now);
    return { kind: 'later', scope: 'channel', reason: `it answered with status ${status}`, retryAfterMs };
  }
  const why = status >= 300 && status < 400 ? ', a redirect, which is not followed' : '';
  return { kind: 'never', reason: `it answered with status ${status}${why}`, refused: [] };
}

/** Seconds or a date of HTTP; null: absent or neither. */
export function readRetryAfter(text: string | null, now: number): number | null {
  if (text === null) return null;
  if (/^\d{1,9}$/.test(text.trim())) return Number(text) * 1_000;
  const at = Date.parse(text);
  return Number.isNaN(at) ? null : Math.max(0, at - now);
}

/** The cause says more than "fetch failed". */
function describeError(error: unknown): string {
  const cause = error instanceof Error && error.cause instanceof Error ? error.cause : error;
  if (!(cause instanceof Error)) return String(cause);
  const code = 'code' in cause && typeof cause.code === 'string' ? `${cause.code}: ` : '';
  return `${code}${cause.message === '' ? cause.name : cause.message}`;
}
