/** A limit on messages: so many at once, so many an hour in the long run. Written only when one is taken. */

export interface Bucket {
  /** tokens at the time `at`, ms */
  readonly tokens: number;
  readonly at: number;
}

export interface BucketSize {
  readonly burst: number;
  readonly messagesPerHour: number;
}

const HOUR_MS = 3_600_000;
/** Sums of fractions of an hour end a hair below a whole token. */
const NEARLY = 1e-6;

/** A clock that was set back gives nothing and takes nothing. */
export function tokensAt(bucket: Bucket, size: BucketSize, now: number): number {
  const refill = (Math.max(0, now - bucket.at) * size.messagesPerHour) / HOUR_MS;
  return Math.min(size.burst, bucket.tokens + refill);
}

/** null: there is none to take. */
export function takeToken(bucket: Bucket, size: BucketSize, now: number): Bucket | null {
  const tokens = tokensAt(bucket, size, now);
  return tokens < 1 - NEARLY ? null : { tokens: Math.max(0, tokens - 1), at: now };
}

/** When there is one again, ms; `now` where there is one. */
export function nextTokenAt(bucket: Bucket, size: BucketSize, now: number): number {
  const missing = 1 - tokensAt(bucket, size, now);
  return missing <= NEARLY ? now : now + Math.ceil((missing * HOUR_MS) / size.messagesPerHour);
}

export function isFull(bucket: Bucket, size: BucketSize, now: number): boolean {
  return tokensAt(bucket, size, now) >= size.burst - NEARLY;
}
