/**
 * Passwords as the site may keep them: in plain in a file that only the gateway reads, or hashed, `scrypt:15:8:3:SALT:HASH`.
 * Source: scrypt, RFC 7914. Parameters: 32 MiB and about a quarter of a second; among those that public guidance lists as
 * equivalent for logins, from memory.
 */
import { createHmac, randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

const LOG_COST = 15;
const BLOCK = 8;
const PARALLEL = 3;
const BYTES = 32;
const PATTERN = /^scrypt:(\d{1,2}):(\d{1,2}):(\d{1,2}):([A-Za-z0-9_-]{16,64}):([A-Za-z0-9_-]{43})$/;
/** Beyond this a configuration would ask for more memory than a small gateway has. */
const MEMORY_MOST = 134_217_728;

function derive(
  password: string,
  salt: Buffer,
  logCost: number,
  block: number,
  parallel: number,
): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const options = { N: 2 ** logCost, r: block, p: parallel, maxmem: MEMORY_MOST };
    scrypt(password, salt, BYTES, options, (error, key) => (error === null ? resolve(key) : reject(error)));
  });
}

export async function hashPassword(password: string): Promise<string> {
  const salt = randomBytes(16);
  const key = await derive(password, salt, LOG_COST, BLOCK, PARALLEL);
  return `scrypt:${LOG_COST}:${BLOCK}:${PARALLEL}:${salt.toString('base64url')}:${key.toString('base64url')}`;
}

export function isHash(secret: string): boolean {
  return PATTERN.test(secret);
}

/** Rejects where the hash asks for more than may be had. */
async function matchesHash(password: string, hash: string): Promise<boolean> {
  const [, logCost, block, parallel, salt = '', key = ''] = PATTERN.exec(hash) ?? [];
  const found = await derive(
    password,
    Buffer.from(salt, 'base64url'),
    ...([Number(logCost), Number(block), Number(parallel)] as const),
  );
  return timingSafeEqual(found, Buffer.from(key, 'base64url'));
}

const KEY = randomBytes(32);

/** One way and of one length, so that passwords of any length are compared in constant time. */
export function digest(...texts: readonly string[]): Buffer {
  return createHmac('sha256', KEY).update(JSON.stringify(texts)).digest();
}

/** `secret`: a password or its hash. */
export function matchesSecret(password: string, secret: string): Promise<boolean> {
  if (isHash(secret)) return matchesHash(password, secret);
  return Promise.resolve(timingSafeEqual(digest(password), digest(secret)));
}
