/** What the sink `http` sends, and what it makes of answers, against a real server. */
import { createHmac } from 'node:crypto';
import { gunzipSync } from 'node:zlib';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { forwardedSchema } from '../../shared/forward-messages.js';
import { openHttpSink } from '../../src/forward/http.js';
import type { Sink } from '../../src/forward/sink.js';
import { openReceiver, type Receiver } from '../notify/receiver.js';
import { eachStream, makeParts, rollupRecords } from './made-records.js';

const SECRET = 'a-secret-of-the-tests';
let receiver: Receiver;
let sink: Sink;
beforeEach(async () => {
  receiver = await openReceiver();
  const secrets = new Map([
    ['secret', SECRET],
    ['token', 'a-token'],
  ]);
  const settings = {
    kind: 'http',
    url: receiver.url,
    batchMax: 500,
    gzip: true,
    verifyServer: true,
  } as const;
  sink = openHttpSink(settings, makeParts({ secrets, now: () => 1_772_409_600_000 }));
  await sink.open(AbortSignal.timeout(5_000));
});
afterEach(async () => {
  await sink.close();
  await receiver.close();
});

const soon = (): AbortSignal => AbortSignal.timeout(5_000);

test('a batch is CloudEvents 1.0, compressed, with token and a signature over its text', async () => {
  expect(await sink.send(eachStream(), soon())).toEqual({ outcome: 'taken' });
  const [{ headers, body }] = receiver.got as [Receiver['got'][number]];
  expect(headers['content-type']).toContain('application/cloudevents-batch+json');
  expect(headers.authorization).toBe('Bearer a-token');
  const text = gunzipSync(body).toString();
  const signed = createHmac('sha256', SECRET).update(`1772409600.${text}`).digest('hex');
  expect(headers['tallypost-signature']).toBe(`v1=${signed}`);
  const events = JSON.parse(text) as Record<string, unknown>[];
  expect(events).toHaveLength(6);
  for (const event of events) {
    expect(event).toMatchObject({ specversion: '1.0', source: '/tallypost/works' });
    const data = forwardedSchema.parse(event['data']);
    expect(event['id']).toBe(`${data.stream}/${data.key}/${data.revision}`);
    expect(event['type']).toBe(`tallypost.${data.stream}.v1`);
  }
});

test.each([
  [429, 'later', 3_000],
  [503, 'later', 3_000],
  [408, 'later', 3_000],
  [425, 'later', 3_000],
  [401, 'later', null],
  [404, 'later', null],
  [302, 'later', null],
  [400, 'refused', undefined],
  [422, 'refused', undefined],
  [413, 'refused', undefined],
])('status %i: %s', async (status, outcome, retryAfterMs) => {
  receiver.answers = [(response) => response.writeHead(status, { 'retry-after': '3' }).end('why it is so')];
  const sent = await sink.send(rollupRecords(2), soon());
  expect(sent).toMatchObject({ outcome });
  if (sent.outcome === 'later') expect(sent.retryAfterMs).toBe(retryAfterMs);
  if (sent.outcome === 'refused') expect(sent.reason).toContain('why it is so');
});
