/**
 * The sink `http`: batches of CloudEvents 1.0 in JSON, compressed and signed.
 * Source: CloudEvents 1.0 JSON format, section 4 (batch); RFC 9110 for statuses and Retry-After, RFC 8470 for 425.
 */
import { request as requestClear, Agent as ClearAgent, type IncomingMessage } from 'node:http';
import { request as requestSecure, Agent as SecureAgent, type RequestOptions } from 'node:https';
import { gzipSync } from 'node:zlib';
import { signBody, SIGNATURE_HEADER, TIMESTAMP_HEADER } from '../../shared/signature.js';
import { toForwarded } from './record-body.js';
import type { Sent, Sink, SinkParts, SinkRecord } from './sink.js';

export interface HttpSettings {
  readonly kind: 'http';
  readonly url: string;
  readonly batchMax: number;
  readonly gzip: boolean;
  readonly user?: string | undefined;
  readonly verifyServer: boolean;
}

/** Client errors that pass by themselves. */
const PASSING = [408, 425, 429];
/** Client errors that say nothing of the records: whoever runs the receiver must look. */
const MISPLACED: Readonly<Record<number, string>> = {
  401: 'it does not know this login: look at token, user and password',
  403: 'this login may not post there',
  404: 'there is nothing at this address: look at url',
  405: 'it takes no POST at this address: look at url',
  407: 'a proxy on the way asks for a login',
  410: 'there is nothing at this address any more: look at url',
  415: 'it takes no application/cloudevents-batch+json, or nothing compressed: see gzip',
};
const REASON_BYTES_MAX = 400;
/** Level 1: it costs a third of the usual one and saves nearly as much on JSON. */
const GZIP_LEVEL = 1;

export function openHttpSink(settings: HttpSettings, parts: SinkParts): Sink {
  const url = new URL(settings.url);
  let agent: ClearAgent | SecureAgent | null = null;
  return {
    recordsMost: settings.batchMax,
    open: () => {
      agent?.destroy();
      agent = makeAgent(url, settings, parts);
      return Promise.resolve();
    },
    send: async (records, signal) => {
      if (agent === null || signal.aborted) return later('it was not sent');
      if (records.length === 0) return { outcome: 'taken' };
      const body = JSON.stringify(records.map((record) => toEvent(record, parts)));
      try {
        return await post(url, agent, body, settings, parts, signal);
      } catch (error) {
        return later(signal.aborted ? 'no answer within the deadline' : describeError(error));
      }
    },
    close: () => {
      agent?.destroy();
      agent = null;
      return Promise.resolve();
    },
  };
}

/** One connection is enough: there is one request at a time. */
function makeAgent(url: URL, settings: HttpSettings, { secrets }: SinkParts): ClearAgent | SecureAgent {
  const common = { keepAlive: true, maxSockets: 1 };
  if (url.protocol === 'http:') return new ClearAgent(common);
  const [ca, cert, key] = ['ca', 'cert', 'key'].map((stem) => secrets.get(stem));
  return new SecureAgent({
    ...common,
    rejectUnauthorized: settings.verifyServer,
    ...(ca === undefined ? {} : { ca }),
    ...(cert === undefined ? {} : { cert }),
    ...(key === undefined ? {} : { key }),
  });
}

/** `id` is the key with the revision: the same record again has the same one. */
export function toEvent(record: SinkRecord, parts: Pick<SinkParts, 'site' | 'adviceOf'>): object {
  const { content, key, revision, subject } = record;
  const data = toForwarded(record, parts);
  return {
    specversion: '1.0',
    id: `${content.stream}/${key}/${revision}`,
    source: `/tallypost/${parts.site}`,
    type: `tallypost.${content.stream}.v1`,
    subject,
    time: data.at,
    datacontenttype: 'application/json',
    data,
  };
}

function makeHeaders(body: string, settings: HttpSettings, parts: SinkParts): Record<string, string> {
  const { secrets } = parts;
  const [secret, token, password] = ['secret', 'token', 'password'].map((stem) => secrets.get(stem));
  const timestamp = Math.floor(parts.now() / 1_000);
  const login = Buffer.from(`${settings.user ?? ''}:${password ?? ''}`).toString('base64');
  return {
    'content-type': 'application/cloudevents-batch+json; charset=utf-8',
    ...(settings.gzip ? { 'content-encoding': 'gzip' } : {}),
    // over the text before it is compressed, because servers hand it on uncompressed
    ...(secret === undefined
      ? {}
      : { [TIMESTAMP_HEADER]: String(timestamp), [SIGNATURE_HEADER]: signBody(secret, timestamp, body) }),
    ...(token === undefined ? {} : { authorization: `Bearer ${token}` }),
    ...(settings.user === undefined ? {} : { authorization: `Basic ${login}` }),
  };
}

function post(
  url: URL,
  agent: ClearAgent | SecureAgent,
  text: string,
  settings: HttpSettings,
  parts: SinkParts,
  signal: AbortSignal,
): Promise<Sent> {
  const body = settings.gzip ? gzipSync(text, { level: GZIP_LEVEL }) : Buffer.from(text);
  const headers = { ...makeHeaders(text, settings, parts), 'content-length': String(body.length) };
  // an aborted signal destroys the socket
  const options: RequestOptions = { method: 'POST', agent, headers, signal };
  return new Promise((resolve, reject) => {
    const answer = (response: IncomingMessage): void => {
      readReason(response).then((reason) => resolve(judge(response, reason, parts.now())), reject);
    };
    const sent =
      url.protocol === 'http:' ? requestClear(url, options, answer) : requestSecure(url, options, answer);
    sent.on('error', reject);
    sent.end(body);
  });
}

/** The answer is read to its end, so that the connection can be used again; only its beginning is kept. */
async function readReason(response: IncomingMessage): Promise<string> {
  let text = '';
  for await (const chunk of response as AsyncIterable<Buffer>)
    if (text.length < REASON_BYTES_MAX) text += chunk.toString('utf8');
  return text.slice(0, REASON_BYTES_MAX).trim();
}

function judge({ statusCode = 0, headers }: IncomingMessage, text: string, now: number): Sent {
  if (statusCode >= 200 && statusCode < 300) return { outcome: 'taken' };
  const says = text === '' ? '' : `: ${text}`;
  const reason = `it answered with status ${statusCode}${says}`;
  if (statusCode >= 500 || PASSING.includes(statusCode))
    return {
      outcome: 'later',
      reason,
      retryAfterMs: readRetryAfter(headers['retry-after'] ?? null, headers.date, now),
      isOpen: true,
    };
  const misplaced = MISPLACED[statusCode];
  if (misplaced !== undefined)
    return { ...later(`${misplaced} (status ${statusCode}${says})`), isOpen: true };
  if (statusCode < 400) return later(`${reason}, a redirect, which is not followed: look at url`);
  return { outcome: 'refused', reason, index: null };
}

function later(reason: string): Extract<Sent, { outcome: 'later' }> {
  return { outcome: 'later', reason, retryAfterMs: null };
}

/** Seconds or a date of HTTP, which is one of the receiver's own clock where it tells that; null: absent or neither. */
function readRetryAfter(text: string | null, date: string | undefined, now: number): number | null {
  if (text === null) return null;
  if (/^\d{1,9}$/.test(text.trim())) return Number(text) * 1_000;
  const at = Date.parse(text);
  const sentAt = Date.parse(date ?? '');
  return Number.isNaN(at) ? null : Math.max(0, at - (Number.isNaN(sentAt) ? now : sentAt));
}

function describeError(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  const code = 'code' in error && typeof error.code === 'string' ? `${error.code}: ` : '';
  return `${code}${error.message === '' ? error.name : error.message}`;
}
