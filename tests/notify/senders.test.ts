/** The two senders against real servers: what each answer of theirs means. Needs openssl and the build. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Notification } from '../../shared/notification.js';
import { notificationSchema } from '../../shared/notification.js';
import { waitBeforeRetry } from '../../src/notify/backoff.js';
import { composeTest } from '../../src/notify/compose-message.js';
import { sendMail, type MailServer } from '../../src/notify/email-sender.js';
import type { Outcome } from '../../src/notify/settle-delivery.js';
import { postWebhook, readRetryAfter, type WebhookTarget } from '../../src/notify/webhook-sender.js';
import { makeCertificate, openMailbox, type Mailbox } from './mailbox.js';
import { openReceiver, status, type Receiver } from './receiver.js';

const NOW = Date.parse('2026-03-02T06:00:00Z');
const message: Notification = composeTest('shift', 'shift-1-abc', NOW, {
  site: 'tarn-hollow',
  timeZone: 'Europe/London',
});
const DELIVERED: Outcome = { kind: 'delivered', refused: [], later: [] };
const never = new AbortController().signal;
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tallypost-senders-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('a webhook', () => {
  let receiver: Receiver;
  let target: WebhookTarget;
  beforeEach(async () => {
    receiver = await openReceiver();
    const secret = 'a secret of the tests';
    target = { name: 'desk', url: receiver.url, secret, authorization: 'Bearer t0ken', timeoutMs: 2_000 };
  });
  afterEach(() => receiver.close());
  const post = (signal = never): Promise<Outcome> => postWebhook(target, message, NOW, signal);

  it('gets the message as the contract has it, with its id, its login and a signature that openssl verifies', async () => {
    expect(await post()).toEqual(DELIVERED);
    const { headers, body } = receiver.got[0]!;
    expect(notificationSchema.parse(JSON.parse(body.toString('utf8')))).toEqual(message);
    expect(headers).toMatchObject({
      ...{ 'content-type': 'application/json', 'idempotency-key': 'shift-1-abc' },
      ...{ 'tallypost-timestamp': String(NOW / 1_000), authorization: 'Bearer t0ken' },
    });
    const file = join(folder, 'signed');
    writeFileSync(file, Buffer.concat([Buffer.from(`${NOW / 1_000}.`), body]));
    const said = execFileSync('openssl', ['dgst', '-sha256', '-hmac', 'a secret of the tests', '-r', file]);
    expect(headers['tallypost-signature']).toBe(`v1=${said.toString('utf8').split(' ')[0]}`);
  });

  it.each([500, 502, 503, 408, 425])('status %i passes: later', async (code) => {
    receiver.answers = [status(code)];
    const reason = `it answered with status ${code}`;
    expect(await post()).toEqual({ kind: 'later', scope: 'channel', reason, retryAfterMs: null });
  });

  it.each([400, 401, 403, 404, 410, 413, 422])('status %i does not pass: never', async (code) => {
    receiver.answers = [status(code)];
    expect(await post()).toMatchObject({ kind: 'never', reason: `it answered with status ${code}` });
  });

  it('a redirect is not followed, because the signed body is not for whoever stands there', async () => {
    receiver.answers = [status(307, { location: receiver.url })];
    expect(await post()).toMatchObject({ kind: 'never' });
    expect(receiver.got).toHaveLength(1);
  });

  it('429 says when to come again', async () => {
    receiver.answers = [status(429, { 'retry-after': '17' })];
    expect(await post()).toMatchObject({ kind: 'later', retryAfterMs: 17_000 });
  });

  it('one that never answers is given up at the deadline; one that breaks off, at once', async () => {
    target = { ...target, timeoutMs: 500 };
    receiver.answers = [() => undefined, (response) => void response.destroy()];
    expect(await post()).toMatchObject({ kind: 'later', reason: 'no answer within 500 ms' });
    expect(await post()).toMatchObject({ kind: 'later', scope: 'channel' });
    expect(await post()).toEqual(DELIVERED);
  });

  it('nobody there, and a gateway that stops, are later', async () => {
    await receiver.close();
    const gone = await post();
    expect(gone).toMatchObject({ kind: 'later', scope: 'channel' });
    expect(gone.kind === 'later' && gone.reason).toContain('ECONNREFUSED');
    expect(await post(AbortSignal.abort())).toMatchObject({ kind: 'later' });
  });
});

it.each([
  [null, null],
  ['120', 120_000],
  ['Mon, 02 Mar 2026 06:00:30 GMT', 30_000],
  ['Mon, 02 Mar 2026 05:00:00 GMT', 0],
  ['soon', null],
])('Retry-After %s', (text, ms) => {
  expect(readRetryAfter(text, NOW)).toBe(ms);
});

it('waits twice as long each time, within bounds, never less than was asked for', () => {
  const waits = [1, 2, 3, 8, 9, 50].map((n) => waitBeforeRetry(n, null, 0.999_999));
  expect(waits).toEqual([2_000, 4_000, 8_000, 256_000, 300_000, 300_000]);
  expect(waitBeforeRetry(1, null, 0)).toBe(1_000);
  expect(waitBeforeRetry(1, 60_000, 0)).toBe(60_000);
  expect(waitBeforeRetry(1, 86_400_000, 0)).toBe(3_600_000);
});

describe('the mail server', () => {
  let mailbox: Mailbox | null = null;
  afterEach(async () => {
    await mailbox?.kill();
    mailbox = null;
  });
  const server = (port: number, change: Partial<MailServer> = {}): MailServer => ({
    ...{ host: '127.0.0.1', port, security: 'none', login: null, from: 'tallypost@tarn-hollow.example' },
    ...{ authorities: null, timeoutMs: 2_000, ...change },
  });
  const send = (port: number, change: Partial<MailServer> = {}, to = ['a@site.example', 'b@site.example']) =>
    sendMail(server(port, change), message, to, never);

  it('gets plain text with a name that stays the same', async () => {
    mailbox = await openMailbox();
    expect(await send(mailbox.port)).toEqual(DELIVERED);
    expect(await send(mailbox.port)).toEqual(DELIVERED);
    const [one, two] = mailbox.letters();
    expect(one).toMatchObject({ to: ['a@site.example', 'b@site.example'], subject: message.subject });
    expect(one?.text.trimEnd()).toBe(message.text);
    expect(one?.messageId).toBe('<shift-1-abc.tarn-hollow@tarn-hollow.example>');
    expect(two?.messageId).toBe(one?.messageId);
    expect(one?.raw).toContain('Auto-Submitted: auto-generated');
    expect(one?.raw).not.toContain('text/html');
  });

  it('that refuses one recipient for good and puts another off serves the rest', async () => {
    mailbox = await openMailbox({ refuse: ['b@site.example'], later: ['c@site.example'] });
    const outcome = await send(mailbox.port, {}, ['a@site.example', 'b@site.example', 'c@site.example']);
    expect(outcome).toMatchObject({
      kind: 'delivered',
      refused: [{ to: 'b@site.example', reason: expect.stringContaining('550') as string }],
      later: ['c@site.example'],
    });
    expect(mailbox.letters().map(({ to }) => to)).toEqual([['a@site.example']]);
  });

  it('that refuses all of them for good: never; that puts one off: later, for this message alone', async () => {
    mailbox = await openMailbox({ refuse: ['a@site.example', 'b@site.example'], later: ['c@site.example'] });
    const outcome = await send(mailbox.port);
    expect(outcome).toMatchObject({ kind: 'never' });
    expect(outcome.kind === 'never' && outcome.refused.map(({ to }) => to)).toEqual([
      'a@site.example',
      'b@site.example',
    ]);
    expect(await send(mailbox.port, {}, ['c@site.example'])).toMatchObject({
      kind: 'later',
      scope: 'message',
    });
  });

  it('with STARTTLS and a login: right, wrong password, certificate of a stranger, no TLS offered', async () => {
    const tls = { ...makeCertificate(folder), isFirst: false };
    const authorities = readFileSync(tls.cert, 'utf8');
    const login = { user: 'tallypost', password: 'right' };
    mailbox = await openMailbox({ tls, login });
    const secure = { security: 'starttls' as const, authorities };
    expect(await send(mailbox.port, { ...secure, login })).toEqual(DELIVERED);
    expect(mailbox.letters()[0]).toMatchObject({ isSecure: true, user: 'tallypost' });
    const wrong = await send(mailbox.port, { ...secure, login: { ...login, password: 'wrong' } });
    expect(wrong).toMatchObject({ kind: 'later', scope: 'channel' });
    expect(wrong.kind === 'later' && wrong.reason).toContain('535');
    const stranger = await send(mailbox.port, { security: 'starttls', login });
    expect(stranger).toMatchObject({ kind: 'later', scope: 'channel' });
    expect(stranger.kind === 'later' && stranger.reason).toMatch(/self.signed/);
    await mailbox.kill();
    mailbox = await openMailbox();
    expect(await send(mailbox.port, secure)).toMatchObject({ kind: 'later', scope: 'channel' });
    expect(mailbox.letters()).toEqual([]);
  });

  it('with TLS from the first byte', async () => {
    const tls = { ...makeCertificate(folder), isFirst: true };
    mailbox = await openMailbox({ tls });
    const authorities = readFileSync(tls.cert, 'utf8');
    expect(await send(mailbox.port, { security: 'tls', authorities })).toEqual(DELIVERED);
    expect(mailbox.letters()[0]).toMatchObject({ isSecure: true });
  });

  it('that is slow is waited for; that never greets or falls silent is given up in time', async () => {
    mailbox = await openMailbox({ slowMs: 1_200 });
    expect(await send(mailbox.port)).toEqual(DELIVERED);
    const began = performance.now();
    expect(await send(mailbox.port, { timeoutMs: 500 })).toMatchObject({ kind: 'later', scope: 'channel' });
    await mailbox.kill();
    mailbox = await openMailbox({ isMute: true });
    expect(await send(mailbox.port, { timeoutMs: 500 })).toMatchObject({ kind: 'later', scope: 'channel' });
    expect(performance.now() - began).toBeLessThan(10_000);
  });

  it('that is not there, or is no mail server: later', async () => {
    const dumb = createServer((socket) => socket.end('HTTP/1.1 400 Bad Request\r\n\r\n'));
    await new Promise<void>((resolve) => dumb.listen(0, '127.0.0.1', resolve));
    const { port } = dumb.address() as AddressInfo;
    expect(await send(port)).toMatchObject({ kind: 'later', scope: 'channel' });
    await new Promise((resolve) => dumb.close(resolve));
    const gone = await send(port);
    expect(gone.kind === 'later' && gone.reason).toContain('ECONNREFUSED');
  });
});
