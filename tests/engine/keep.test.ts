/** A record of another room beside the core's own: durable with the sentences that go with it, and read back by key. */
import { rmSync } from 'node:fs';
import { afterEach, beforeEach, expect, it } from 'vitest';
import {
  readJournalAfter,
  readJournalEntries,
  readJournalHead,
  readKept,
} from '../../src/store/read-news.js';
import { prepareFolder, type Rig, startRig } from './gateway-rig.js';

let folder: string;
let rig: Rig;
beforeEach(async () => {
  folder = prepareFolder({}).folder;
  rig = await startRig({ folder });
});
afterEach(async () => {
  await rig.stop();
  rmSync(folder, { recursive: true, force: true });
});

it('is there after a restart, and the core goes on beside it', async () => {
  await rig.gateway.keep({ key: 'notify', json: '{"cursor":7}', notes: ['a channel fails'] });
  await rig.gateway.keep({ key: 'notify', json: null, notes: ['a channel works again'] });
  await rig.stop();
  rig = await startRig({ folder });
  const reader = rig.reader();
  expect(readKept(reader, 'notify')).toBe('{"cursor":7}');
  expect(readKept(reader, 'nothing')).toBeNull();
  const { entries, alarms } = readJournalAfter(reader, 0, 100);
  expect(entries.map(({ text, what, annunciated }) => [text, what, annunciated])).toEqual([
    ['a channel fails', '', false],
    ['a channel works again', '', false],
  ]);
  expect(alarms).toEqual([]);
  reader.close();
});

it('the journal is followed by id, and its head at a time is known', async () => {
  for (const text of ['one', 'two', 'three']) await rig.gateway.note(text);
  const reader = rig.reader();
  const [first, second, third] = readJournalAfter(reader, 0, 100).entries;
  expect(readJournalAfter(reader, first!.id, 1).entries.map(({ text }) => text)).toEqual(['two']);
  expect(readJournalAfter(reader, third!.id, 10).entries).toEqual([]);
  const ids = [first!.id, third!.id, 999];
  expect(readJournalEntries(reader, ids).entries.map(({ text }) => text)).toEqual(['one', 'three']);
  expect(readJournalHead(reader, second!.detectedAt + 1)).toBeGreaterThanOrEqual(second!.id);
  expect(readJournalHead(reader, first!.detectedAt)).toBe(0);
  reader.close();
});
