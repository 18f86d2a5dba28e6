/** What the core is told of a sink: for how long new records wait, also where the receiver is there and takes nothing. */
import { afterEach, expect, test } from 'vitest';
import { ForwardRig, settingsOf, START } from './forward-rig.js';

const DAY_MS = 86_400_000;
const SENSORS = ['pump-1/de', 'pump-1/nde'];

let rig: ForwardRig;
afterEach(() => rig.close());
const standing = () => rig.forwarder.status()[0]!.standing;

/** Minutes go by, each with its records. */
async function goOn(minutes: number): Promise<void> {
  for (let i = 0; i < minutes; i++) {
    rig.closeMinute();
    await rig.clock.pass(60_000, 5_000);
    rig.forwarder.status();
  }
}

test.each(['isDead', 'isRefusing'] as const)(
  'a receiver that %s has new records wait since it fails',
  async (how) => {
    rig = new ForwardRig(SENSORS);
    rig.start([settingsOf('plant')]);
    await goOn(1);
    expect(standing()).toEqual({
      ...{ sink: 'plant', lagMs: 0, isTaking: true, waiting: 0, lastError: '', losesAt: null },
    });
    const receiver = rig.receiver('plant');
    // it is there and takes nothing: with each attempt the new records go behind those that come
    if (how === 'isDead') receiver.isDead = true;
    else
      receiver.onBatch = () => {
        throw new Error('come later');
      };
    await goOn(20);
    const { lagMs, isTaking, waiting, lastError } = standing();
    expect(lagMs).toBeGreaterThan(19 * 60_000);
    expect(lagMs).toBeLessThanOrEqual(20 * 60_000);
    // times are made of it
    expect(Number.isInteger(lagMs)).toBe(true);
    expect({ isTaking, waiting }).toEqual({ isTaking: false, waiting: 2 * 20 + 2 * 2 });
    expect(lastError).not.toBe('');
    receiver.isDead = false;
    receiver.onBatch = () => undefined;
    await rig.clock.pass(60_000, 1_000);
    expect(standing()).toMatchObject({ lagMs: 0, isTaking: true, waiting: 0, lastError: '' });
  },
);

test('what is given up next is foreseen, by its age or by the bytes that go on growing', async () => {
  rig = new ForwardRig(SENSORS);
  rig.start([settingsOf('old', { ageDaysMax: 2 }), settingsOf('full', { backlogBytesMax: 65_536 })]);
  for (const name of ['old', 'full']) rig.receiver(name).isDead = true;
  await goOn(30);
  const [old, full] = rig.forwarder.status().map((status) => status.standing);
  // the first minute was entered when it closed, at the very beginning
  expect(old!.losesAt).toBe(START + 2 * DAY_MS);
  const left = 65_536 / 40 - full!.waiting;
  const perMinute = 2.26;
  const expected = rig.clock.now() + (left / perMinute) * 60_000;
  expect(Math.abs(full!.losesAt! - expected)).toBeLessThan(0.2 * (expected - rig.clock.now()));
});
