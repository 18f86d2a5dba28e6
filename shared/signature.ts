/**
 * The signature of a webhook: HMAC-SHA256 over `<timestamp>.<body>`, so that neither body nor time can be changed, and an
 * old request cannot be played again to a receiver that looks at the time.
 * Source: RFC 2104 for the HMAC; what it covers and how the header is written is our choice, and versioned by `v1`.
 */
import { createHmac } from 'node:crypto';

export const TIMESTAMP_HEADER = 'tallypost-timestamp';
export const SIGNATURE_HEADER = 'tallypost-signature';
/** Source: the draft of the HTTP working group on the Idempotency-Key header field. */
export const IDEMPOTENCY_HEADER = 'idempotency-key';

/** `timestamp`: whole seconds since 1970, as the header has them. `body`: the very bytes that are sent, UTF-8. */
export function signBody(secret: string, timestamp: number, body: string): string {
  return `v1=${createHmac('sha256', secret).update(`${timestamp}.${body}`).digest('hex')}`;
}
