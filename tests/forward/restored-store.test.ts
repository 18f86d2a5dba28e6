/** A backup takes the place of the store that was forwarded from: positions mean something else, and nobody may be misled. */
import { copyFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { restoreStore } from '../../src/cli/restore-store.js';
import { FILE_NAME } from '../../src/store/open.js';
import { ForwardRig, settingsOf, START } from './forward-rig.js';

const SENSORS = ['pump-1/de', 'pump-2/de'];
let rig: ForwardRig;
afterEach(() => rig.close());

async function closeMinutes(count: number): Promise<void> {
  for (let i = 0; i < count; i++) {
    rig.closeMinute();
    await rig.clock.jump(60_000);
  }
}

/** Forwards, makes a backup, forwards more, and stops. */
async function forwardPastBackup(settings = [settingsOf('plant')]): Promise<string> {
  rig = new ForwardRig(SENSORS);
  rig.start(settings);
  await closeMinutes(10);
  const backup = join(rig.folder.dir, 'backup.db');
  await rig.store.backup(backup);
  await closeMinutes(10);
  await rig.clock.pass(2_000, 500);
  await rig.stopForwarder();
  return backup;
}

function minuteKeys(from: number, to: number): string[] {
  return Array.from({ length: to - from }, (_, i) => START + (from + i) * 60_000).flatMap((start) =>
    SENSORS.map((sensor) => `${sensor}|1m|${start}`),
  );
}

function heldKeys(): string[] {
  return rig
    .receiver('plant')
    .held()
    .map(({ key }) => key);
}

test('a restored store begins another outbox, and the sink begins anew with all that is in it', async () => {
  const backup = await forwardPastBackup();
  rig.replaceStore(() => void restoreStore(backup, rig.folder.dir));
  // more than were forwarded since the backup, before the forwarder looks: old positions would lie among them
  for (let i = 0; i < 15; i++) rig.closeMinute();
  rig.log.length = 0;
  rig.start([settingsOf('plant')]);
  await rig.clock.pass(20_000, 500);
  expect(heldKeys()).toEqual(expect.arrayContaining(minuteKeys(20, 35)));
  expect(rig.log.filter((line) => line.includes('a backup was restored'))).toHaveLength(1);
  expect(rig.log[0]).toContain('tallypost sinks prove plant');
  expect(rig.forwarder.status()[0]!.lastError).toContain('a backup was restored');
  const { isBalanced, since, losses } = rig.forwarder.ledger('plant');
  expect({ isBalanced, losses }).toEqual({ isBalanced: true, losses: [] });
  expect(since).toBeGreaterThan(START + 20 * 60_000);
  await rig.stopForwarder();
  rig.log.length = 0;
  rig.start([settingsOf('plant')]);
  expect(rig.log).toEqual([]);
});

test('what waited in the backup is not sent under new positions', async () => {
  const dead = [settingsOf('plant')];
  rig = new ForwardRig(SENSORS);
  rig.start(dead);
  rig.receiver('plant').isDead = true;
  await closeMinutes(10);
  const backup = join(rig.folder.dir, 'backup.db');
  await rig.store.backup(backup);
  await rig.stopForwarder();
  rig.replaceStore(() => void restoreStore(backup, rig.folder.dir));
  rig.receiver('plant').isDead = false;
  rig.start(dead);
  await closeMinutes(1);
  await rig.clock.pass(5_000, 500);
  expect(heldKeys().sort()).toEqual(minuteKeys(10, 11));
  expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
});

test('records in quarantine stay and can be sent, outside of the ledger', async () => {
  rig = new ForwardRig(SENSORS);
  rig.start([settingsOf('plant')]);
  const [poison] = minuteKeys(3, 4);
  rig.receiver('plant').poison.add(poison!);
  await closeMinutes(10);
  const backup = join(rig.folder.dir, 'backup.db');
  await rig.store.backup(backup);
  await rig.clock.pass(5_000, 500);
  await rig.stopForwarder();
  rig.replaceStore(() => void restoreStore(backup, rig.folder.dir));
  rig.start([settingsOf('plant')]);
  rig.receiver('plant').poison.clear();
  expect(rig.forwarder.retry('plant')).toBe(1);
  await rig.clock.pass(5_000, 500);
  expect(heldKeys()).toContain(poison);
  expect(rig.forwarder.status()[0]).toMatchObject({ quarantined: 0 });
  expect(rig.forwarder.ledger('plant')).toMatchObject({ isBalanced: true, lines: [] });
});

test('an older copy put back by hand is noticed and told', async () => {
  const backup = await forwardPastBackup();
  rig.replaceStore(() => {
    for (const tail of ['-wal', '-shm']) rmSync(join(rig.folder.dir, FILE_NAME + tail), { force: true });
    copyFileSync(backup, join(rig.folder.dir, FILE_NAME));
  });
  rig.log.length = 0;
  rig.start([settingsOf('plant')]);
  await closeMinutes(1);
  await rig.clock.pass(5_000, 500);
  expect(rig.log.filter((line) => line.includes('older than what was forwarded'))).toHaveLength(1);
  expect(heldKeys()).toEqual(expect.arrayContaining(minuteKeys(20, 21)));
  expect(rig.forwarder.ledger('plant').isBalanced).toBe(true);
});
