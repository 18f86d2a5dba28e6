/** The live stream over a break: who comes back with the id of its last event goes on behind it. */
import { describe, expect, it } from 'vitest';
import type { LiveEvent } from '../../src/api/deps.js';
import type { JournalRow } from '../../src/api/journal-reader.js';
import { LiveHub, RING_MOST } from '../../src/api/live-hub.js';
import { readMark, writeMark } from '../../src/api/live-mark.js';
import { LiveReader, type Outlet } from '../../src/api/live-reader.js';
import { entryOf } from '../../src/core/journal.js';
import { alarm, makeFakeGateway, NOW, rate } from './fake-gateway.js';

interface Heard {
  readonly id: string;
  readonly kind: string;
  readonly body: { id?: number; sensor?: string; load?: string[]; reason?: string };
}

/** A socket that takes everything, or nothing until it is drained. */
class FakeOutlet implements Outlet {
  text = '';
  writableLength = 0;
  writableEnded = false;
  isStuck = false;
  #drained: (() => void)[] = [];

  write(text: string): void {
    this.text += text;
    if (this.isStuck) this.writableLength += text.length;
  }
  end(): void {
    this.writableEnded = true;
  }
  once(_event: 'drain', then: () => void): void {
    this.#drained.push(then);
  }
  drain(): void {
    this.isStuck = false;
    this.writableLength = 0;
    for (const then of this.#drained.splice(0)) then();
  }
  heard(): Heard[] {
    return [...this.text.matchAll(/id: (\S+)\nevent: (\S+)\ndata: (.*)\n\n/g)].map(([, id, kind, body]) => ({
      ...{ id: id!, kind: kind!, body: JSON.parse(body!) as Heard['body'] },
    }));
  }
  lastId(): string {
    return [...this.text.matchAll(/id: (\S+)\n/g)].at(-1)![1]!;
  }
}

const entry = (id: number): Extract<LiveEvent, { kind: 'journal' }> => ({
  ...{ kind: 'journal', id },
  entry: entryOf(
    { at: NOW, detectedAt: NOW, kind: 'notice', subject: 'gateway', text: `entry ${id}` },
    'abc',
  ),
});

const turn = (): Promise<void> => new Promise((resolve) => setImmediate(() => setImmediate(resolve)));

/** A gateway whose store holds the entries up to `stored`, seen by one start of it. */
function startHub(epoch: string, stored: { rows: JournalRow[] }, isWall = false) {
  const gateway = makeFakeGateway();
  gateway.reader.journalSince = ({ id, limit }) =>
    Promise.resolve(stored.rows.filter((row) => row.id > id).slice(0, limit));
  gateway.reader.journalEnd = () => Promise.resolve(stored.rows.at(-1)?.id ?? 0);
  const hub = new LiveHub(gateway, epoch);
  hub.learnJournalEnd(stored.rows.at(-1)?.id ?? 0);
  const enter = (id: number): void => {
    const event = entry(id);
    stored.rows.push({ ...event.entry, id, digest: null });
    gateway.emit(event);
  };
  const open = (lastId: string | null): FakeOutlet => {
    const outlet = new FakeOutlet();
    const reader = new LiveReader(hub, gateway, outlet, isWall);
    hub.follow(() => reader.pump());
    reader.begin(lastId === null ? 'now' : readMark(lastId));
    return outlet;
  };
  return { gateway, hub, enter, open };
}

const ids = (outlet: FakeOutlet): number[] =>
  outlet.heard().flatMap(({ kind, body }) => (kind === 'journal' ? [body.id!] : []));

describe('an id', () => {
  it('says what it said, and nothing else is taken for one', () => {
    const mark = { epoch: 'k3f', seq: 12, journalId: 7, at: NOW };
    expect(readMark(writeMark(mark))).toEqual(mark);
    expect(readMark(writeMark({ ...mark, journalId: null }))).toEqual({ ...mark, journalId: null });
    for (const text of ['', '12', 'a-b-c-d', `${'1'.repeat(20)}-1-1-1`, 'k3f-1-1-1-1'])
      expect(readMark(text)).toBeNull();
  });
});

describe('a reader that comes back', () => {
  it('is told everything behind its last event, once, whenever it broke off', async () => {
    for (let broken = 0; broken <= 6; broken++) {
      const { enter, open } = startHub('first', { rows: [] });
      const before = open(null);
      for (let id = 1; id <= broken; id++) enter(id);
      await turn();
      const lastId = before.lastId();
      for (let id = broken + 1; id <= 6; id++) enter(id);
      const after = open(lastId);
      await turn();
      expect([...ids(before).slice(0, broken), ...ids(after)]).toEqual([1, 2, 3, 4, 5, 6]);
      expect(after.heard().some(({ kind }) => kind === 'again')).toBe(false);
    }
  });

  it('of rates gets the last of each sensor only', async () => {
    const { gateway, open } = startHub('first', { rows: [] });
    const lastId = open(null).lastId();
    for (let i = 0; i < 5; i++) gateway.emit({ kind: 'rate', rate });
    gateway.emit({ kind: 'rate', rate: { ...rate, sensor: 'pump-1/nde' } });
    const outlet = open(lastId);
    await turn();
    expect(outlet.heard().map(({ body }) => body.sensor)).toEqual(['pump-1/de', 'pump-1/nde']);
  });

  it('is told to load everything anew where events were lost on their way, before those that came after', async () => {
    const { gateway, enter, open } = startHub('first', { rows: [] });
    const outlet = open(null);
    const lastId = outlet.lastId();
    enter(1);
    gateway.emit({ kind: 'gap' });
    enter(2);
    await turn();
    for (const reader of [outlet, open(lastId)])
      expect(reader.heard().map(({ kind, body }) => [kind, body.id ?? body.load])).toEqual([
        ['journal', 1],
        ['again', ['everything']],
        ['journal', 2],
      ]);
  });

  it('goes on after a restart of the gateway: no entry is missed, none comes twice', async () => {
    for (let broken = 0; broken <= 5; broken++) {
      const stored = { rows: [] as JournalRow[] };
      const first = startHub('first', stored);
      const before = first.open(null);
      for (let id = 1; id <= broken; id++) first.enter(id);
      await turn();
      const lastId = before.lastId();
      // committed before the kill, told to nobody
      for (let id = broken + 1; id <= 4; id++) stored.rows.push({ ...entry(id).entry, id, digest: null });
      const second = startHub('second', stored);
      const after = second.open(lastId);
      second.enter(Math.max(5, broken + 1));
      await turn();
      second.enter(Math.max(6, broken + 2));
      await turn();
      const expected = Array.from({ length: Math.max(6, broken + 2) }, (_, i) => i + 1);
      expect([...ids(before), ...ids(after)]).toEqual(expected);
      const again = after.heard().filter(({ kind }) => kind === 'again');
      expect(again.map(({ body }) => [body.reason, body.load])).toEqual([
        ['restarted', ['rates', 'transients', 'rollups']],
      ]);
    }
  });

  it('without a login is told of alarms, and neither the journal nor who did what', async () => {
    const { gateway, enter, open } = startHub('first', { rows: [] }, true);
    const outlet = open(null);
    enter(1);
    gateway.emit({ kind: 'alarm', alarm: { ...alarm, acknowledgedBy: 'M. Reed', note: 'called home' } });
    await turn();
    expect(outlet.heard().map(({ kind }) => kind)).toEqual(['alarm']);
    expect(JSON.stringify(outlet.heard())).not.toMatch(/M\. Reed|called home/);
  });

  it('with a number that this store has not given, of one that was restored, is told to load everything', async () => {
    const stored = { rows: [1, 2, 3].map((id) => ({ ...entry(id).entry, id, digest: null })) };
    const { enter, open } = startHub('second', stored);
    const outlet = open(writeMark({ epoch: 'first', seq: 9, journalId: 5_000, at: NOW }));
    await turn();
    enter(4);
    await turn();
    expect(ids(outlet)).toEqual([4]);
    expect(outlet.heard().find(({ kind }) => kind === 'again')?.body.load).toEqual(['everything']);
  });

  it('that breaks off within a refill gets the rest of it', async () => {
    const stored = { rows: [1, 2, 3, 4].map((id) => ({ ...entry(id).entry, id, digest: null })) };
    const { open } = startHub('second', stored);
    const whole = open(writeMark({ epoch: 'first', seq: 9, journalId: 1, at: NOW }));
    await turn();
    const cut = whole.heard().findIndex(({ body }) => body.id === 3);
    const rest = open(whole.heard()[cut]!.id);
    await turn();
    expect(ids(whole)).toEqual([2, 3, 4]);
    expect(ids(rest)).toEqual([4]);
  });

  it('is told to load everything when its id is strange or says nothing of the journal', async () => {
    const { open } = startHub('second', { rows: [] });
    const strange = [
      'nonsense',
      writeMark({ epoch: 'first', seq: 1, journalId: null, at: NOW }),
      // of this start, and of an event that was not yet
      writeMark({ epoch: 'second', seq: 9_999, journalId: 0, at: NOW }),
    ];
    for (const lastId of strange) {
      const outlet = open(lastId);
      await turn();
      expect(outlet.heard().map(({ kind, body }) => [kind, body.load])).toEqual([['again', ['everything']]]);
    }
  });

  it('and was away for longer than the ring reaches gets the journal from the store', async () => {
    const { enter, open, hub } = startHub('first', { rows: [] });
    const lastId = open(null).lastId();
    for (let id = 1; id <= 3 * RING_MOST; id++) enter(id);
    expect(hub.after(0, 10)).toBeNull();
    const outlet = open(lastId);
    await turn();
    await turn();
    const told = ids(outlet);
    expect(told).toEqual([...new Set(told)].sort((a, b) => a - b));
    expect(told[0]).toBe(1);
    const { body } = outlet.heard().find(({ kind }) => kind === 'again')!;
    expect(body.load).toContain('journal');
  });
});

describe('a reader that does not read', () => {
  it('is waited for, and then hears what came meanwhile in order, once', async () => {
    const { enter, open } = startHub('first', { rows: [] });
    const outlet = open(null);
    outlet.isStuck = true;
    outlet.writableLength = 300_000;
    enter(1);
    await turn();
    const held = outlet.text.length;
    for (let id = 2; id <= 40; id++) enter(id);
    await turn();
    expect(outlet.text.length).toBe(held);
    outlet.drain();
    await turn();
    expect(ids(outlet)).toEqual(Array.from({ length: 40 }, (_, i) => i + 1));
  });

  it('hears of entries that were told to nobody', async () => {
    const { enter, open } = startHub('first', { rows: [] });
    const outlet = open(null);
    enter(1);
    enter(4);
    await turn();
    expect(outlet.heard().map(({ kind }) => kind)).toEqual(['journal', 'again', 'journal']);
  });
});
