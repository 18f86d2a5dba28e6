/** The notifier over a journal in memory, with a real mail server in its own process and a real HTTP receiver. */
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { NotifySettings } from '../../src/notify/channels.js';
import type { JournalRow } from '../../src/notify/journal-page.js';
import { Notifier } from '../../src/notify/notifier.js';
import type { Route } from '../../src/notify/routes.js';
import { sleep } from '../support/child.js';
import { openMailbox, type Mailbox } from './mailbox.js';
import { openReceiver, status, type Receiver } from './receiver.js';
import { entry, factsOf, notifyPlan, route } from './story.js';

/** A store in memory: the journal, the record, and a disk that can fill up. */
class FakeStore {
  readonly entries: JournalRow[] = [];
  readonly notes: string[] = [];
  kept: string | null = null;
  keeps = 0;
  isBroken = false;

  enter(word: 'raise' | 'return' | 'ack', subject: string): void {
    this.entries.push(entry(this.entries.length + 1, Date.now(), word, subject));
  }

  keep(json: string | null, notes: readonly string[]): Promise<void> {
    if (this.isBroken) return Promise.reject(new Error('the disk is full'));
    this.keeps += 1;
    this.kept = json ?? this.kept;
    this.notes.push(...notes);
    return Promise.resolve();
  }
}

let store: FakeStore;
let receiver: Receiver;
let notifiers: Notifier[];
let mailboxes: Mailbox[];
beforeEach(async () => {
  store = new FakeStore();
  receiver = await openReceiver();
  notifiers = [];
  mailboxes = [];
});
afterEach(async () => {
  for (const notifier of notifiers) await notifier.stop();
  for (const mailbox of mailboxes) await mailbox.kill();
  await receiver.close();
});

async function mail(wishes: Parameters<typeof openMailbox>[0] = {}): Promise<Mailbox> {
  const mailbox = await openMailbox(wishes);
  mailboxes.push(mailbox);
  return mailbox;
}

function settings(port: number, routes: readonly Route[], waitMs = 200): NotifySettings {
  return {
    plan: notifyPlan(routes, { waitMs, failingMs: 0 }),
    mail: {
      ...{ host: '127.0.0.1', port, security: 'none', login: null, from: 'tallypost@tarn-hollow.example' },
      ...{ authorities: null, timeoutMs: 2_000 },
    },
    webhooks: new Map([
      [
        'desk',
        {
          name: 'desk',
          url: receiver.url,
          secret: 'a secret of tests',
          authorization: null,
          timeoutMs: 1_000,
        },
      ],
    ]),
  };
}

function start(wishes: NotifySettings): Notifier {
  const notifier = new Notifier({
    settings: wishes,
    describe: (id) => factsOf(id),
    readKept: () => Promise.resolve(store.kept),
    readHead: (at) => Promise.resolve(store.entries.findLast(({ detectedAt }) => detectedAt < at)?.id ?? 0),
    readAfter: (id, limit) => {
      const entries = store.entries.filter((one) => one.id > id).slice(0, limit);
      return Promise.resolve({ entries, alarms: [] });
    },
    readEntries: (ids) =>
      Promise.resolve({ entries: store.entries.filter(({ id }) => ids.includes(id)), alarms: [] }),
    keep: (json, notes) => store.keep(json, notes),
    now: () => Date.now(),
    random: () => 0,
    log: { info: () => undefined, warn: () => undefined },
  });
  notifiers.push(notifier);
  return notifier;
}

async function opened(wishes: NotifySettings): Promise<Notifier> {
  const notifier = start(wishes);
  await until(() => store.kept !== null);
  return notifier;
}

async function until(holds: () => boolean, patienceMs = 15_000): Promise<void> {
  const end = Date.now() + patienceMs;
  while (!holds()) {
    if (Date.now() > end) throw new Error('it did not come true in time');
    await sleep(10);
  }
}

function deskIds(): unknown[] {
  return receiver.got.map(({ headers }) => headers['idempotency-key']);
}

describe('a mail server that goes away', () => {
  it('and comes back gets everything once; the journal hears of both', async () => {
    const out = join(mkdtempSync(join(tmpdir(), 'tallypost-mail-')), 'taken.ndjson');
    const first = await mail({ out });
    const notifier = await opened(settings(first.port, [route('shift')]));
    store.enter('raise', 'pump-1.low-rate');
    notifier.look();
    await first.until(1);
    await first.kill();
    store.enter('raise', 'pump-2.low-rate');
    store.enter('raise', 'pump-3.low-rate');
    notifier.look();
    await until(() => store.notes.length > 0);
    expect(notifier.status().channels[0]).toMatchObject({ channel: 'email', sent: 1, waiting: 1 });
    expect(notifier.status().channels[0]?.lastError).toContain('ECONNREFUSED');
    const second = await mail({ out, port: first.port });
    const letters = await second.until(2);
    expect(letters[1]?.subject).toBe('[tarn-hollow] low alarm: pump-2 de, rate (and 1 more)');
    await until(() => store.notes.length > 1);
    expect(store.notes[0]).toMatch(/^notification by email has been failing since .*ECONNREFUSED/);
    expect(store.notes[1]).toBe('notification by email works again: nothing was lost');
    await sleep(300);
    expect(second.letters()).toHaveLength(2);
  });

  it('holds up no webhook while it hangs', async () => {
    const mailbox = await mail({ isMute: true });
    const notifier = await opened(settings(mailbox.port, [route('shift', { webhook: 'desk' })]));
    store.enter('raise', 'pump-1.low-rate');
    notifier.look();
    await receiver.until(1);
    expect(notifier.status().channels.map(({ waiting }) => waiting)[0]).toBe(1);
  });
});

describe('a webhook', () => {
  const desk = route('shift', { email: [], webhook: 'desk' });

  it('that answers with 500 and 429 gets the same message again, not before it asked for it', async () => {
    const notifier = await opened(settings(1, [desk]));
    receiver.answers = [status(500), status(429, { 'retry-after': '3' })];
    store.enter('raise', 'pump-1.low-rate');
    notifier.look();
    await receiver.until(2);
    const askedAt = Date.now();
    await receiver.until(3);
    expect(Date.now() - askedAt).toBeGreaterThan(2_700);
    expect(new Set(deskIds()).size).toBe(1);
    expect(new Set(receiver.got.map(({ body }) => body.toString('utf8'))).size).toBe(1);
    await until(() => notifier.status().channels[1]?.waiting === 0);
  });

  it('that refuses for good loses the message into the journal, and the next is tried', async () => {
    const notifier = await opened(settings(1, [desk], 0));
    receiver.answers = [status(410)];
    store.enter('raise', 'pump-1.low-rate');
    notifier.look();
    await until(() => store.notes.length > 0);
    store.enter('raise', 'pump-2.low-rate');
    notifier.look();
    await receiver.until(2);
    await until(() => store.notes.length > 1);
    expect(store.notes[1]).toContain('1 messages with about 1 alarms were refused or dropped meanwhile');
  });
});

describe('over a restart', () => {
  const desk = route('shift', { email: [], webhook: 'desk' });

  it('nothing is told twice, and what changed while it was down comes in one message', async () => {
    const first = await opened(settings(1, [desk]));
    store.enter('raise', 'pump-1.low-rate');
    first.look();
    await receiver.until(1);
    await until(() => first.status().channels[1]?.waiting === 0);
    await first.stop();
    for (const n of [2, 3, 4]) store.enter('raise', `pump-${n}.low-rate`);
    store.enter('return', 'pump-1.low-rate');
    store.enter('return', 'pump-3.low-rate');
    start(settings(1, [desk]));
    await receiver.until(2);
    await sleep(500);
    expect(receiver.got).toHaveLength(2);
    const { alarms } = JSON.parse(receiver.got[1]!.body.toString('utf8')) as {
      alarms: { id: string; change: string }[];
    };
    expect(alarms.map(({ id, change }) => `${id} ${change}`)).toEqual([
      'pump-2.low-rate raised',
      'pump-4.low-rate raised',
      'pump-3.low-rate raised-and-returned',
      'pump-1.low-rate returned',
    ]);
  });

  it('what was sent but not kept is sent again under the same id', async () => {
    const first = await opened(settings(1, [desk]));
    receiver.answers = [
      (response) => {
        store.isBroken = true; // the process dies before the delivery is on the disk
        response.writeHead(204).end();
      },
    ];
    store.enter('raise', 'pump-1.low-rate');
    first.look();
    await receiver.until(1);
    await first.stop();
    store.isBroken = false;
    start(settings(1, [desk]));
    await receiver.until(2);
    expect(new Set(deskIds()).size).toBe(1);
  });

  it('a first start begins with the present: the journal of the past is not told', async () => {
    for (const n of [1, 2, 3]) store.enter('raise', `pump-${n}.low-rate`);
    await sleep(5);
    const notifier = await opened(settings(1, [desk], 0));
    store.enter('raise', 'pump-4.low-rate');
    notifier.look();
    await receiver.until(1);
    expect(receiver.got[0]!.body.toString('utf8')).not.toContain('pump-3');
  });
});

it('with a disk that is full alarms are told all the same, and kept when there is room', async () => {
  const notifier = await opened(settings(1, [route('shift', { email: [], webhook: 'desk' })]));
  store.isBroken = true;
  store.enter('raise', 'pump-1.low-rate');
  notifier.look();
  await receiver.until(1);
  store.isBroken = false;
  const before = store.keeps;
  await until(() => store.keeps > before);
  expect(receiver.got).toHaveLength(1);
});

it('keeps its record only when it changed', async () => {
  const notifier = await opened(settings(1, [route('shift', { email: [], webhook: 'desk' })]));
  const before = store.keeps;
  for (let i = 0; i < 20; i++) {
    notifier.look();
    await sleep(5);
  }
  expect(store.keeps).toBe(before);
});

it('after a reload what waits goes the new ways', async () => {
  const mailbox = await mail();
  const notifier = await opened(settings(mailbox.port, [route('shift', { email: ['old@site.example'] })]));
  store.enter('raise', 'pump-1.low-rate');
  notifier.look();
  await until(() => notifier.status().routes[0]?.waiting === 1);
  await notifier.reconfigure(settings(mailbox.port, [route('shift', { email: ['new@site.example'] })]));
  const [letter] = await mailbox.until(1);
  expect(letter?.to).toEqual(['new@site.example']);
  expect(await notifier.test('shift')).toEqual([
    { channel: 'email', outcome: { kind: 'delivered', refused: [], later: [] } },
  ]);
  expect(await notifier.test('nobody')).toBeNull();
});

it('a storm of 1,000 alarms makes few letters in which every alarm is named', async () => {
  const mailbox = await mail();
  const notifier = await opened(settings(mailbox.port, [route('shift')], 400));
  for (let i = 0; i < 1_000; i++) {
    store.enter('raise', `pump-${i}.low-rate`);
    if (i % 100 === 0) notifier.look();
  }
  notifier.look();
  await mailbox.until(2);
  await sleep(600);
  const letters = mailbox.letters();
  expect(letters).toHaveLength(2);
  const named = new Set(letters.flatMap(({ text }) => text.match(/pump-\d+/g) ?? []));
  expect(named.size).toBe(1_000);
});
