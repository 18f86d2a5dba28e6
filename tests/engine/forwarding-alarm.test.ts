/** The alarm that a sink is behind, as any other alarm: told over MQTT, acknowledged, kept over a restart, journalled. */
import { rmSync } from 'node:fs';
import { afterEach, expect, it } from 'vitest';
import type { AlarmMessage } from '../../shared/out-messages.js';
import type { SinkStanding } from '../../src/core/facts.js';
import { prepareFolder, startRig, waitFor, type Rig } from './gateway-rig.js';

const ID = 'gateway.historian-forwarding-behind';
const TOPIC = 'workshop/out/gateway/alarm/historian-forwarding-behind';
const YAML = `
alarms:
  forwarding-behind: { limitMs: 20000, deadbandMs: 5000, onDelayMs: 1000, offDelayMs: 1000, priority: high }
sinks:
  - { name: historian, kind: mqtt, url: mqtt://127.0.0.1:9 }
`;

let rig: Rig;
let folder = '';
afterEach(async () => {
  await rig.stop();
  rmSync(folder, { recursive: true, force: true });
});

const behind = (lagMs: number, isTaking: boolean): SinkStanding => ({
  ...{ sink: 'historian', lagMs, isTaking, waiting: 5, lastError: 'nobody answers', losesAt: null },
});

it('is raised, acknowledged, not raised again by a restart, and returns', async () => {
  ({ folder } = prepareFolder({ yaml: YAML }));
  rig = await startRig({ folder, yaml: YAML });
  const heard: AlarmMessage[] = [];
  const listen = async (): Promise<void> => {
    const screen = await rig.connect();
    screen.on('message', (_topic, payload) => heard.push(JSON.parse(payload.toString()) as AlarmMessage));
    await screen.subscribeAsync(TOPIC, { qos: 1 });
  };
  await listen();
  rig.gateway.tellSinks([behind(25_000, false)]);
  await waitFor('it is raised', () => heard.at(-1)?.state === 'unacknowledged');
  expect(heard.at(-1)).toMatchObject({
    ...{
      motor: 'gateway',
      alarm: 'historian-forwarding-behind',
      kind: 'forwarding-behind',
      priority: 'high',
    },
    action: expect.stringContaining('tallypost sinks status') as string,
  });
  const act = { alarms: [ID], act: { do: 'acknowledge' }, who: 'M. Reed', note: 'seen' } as const;
  expect((await rig.gateway.operate(act))[0]).toMatchObject({
    refusal: null,
    record: { state: 'acknowledged' },
  });
  await rig.stop();
  rig = await startRig({ folder, yaml: YAML });
  await listen();
  // as after every start: the forwarder has not heard of its receiver yet
  rig.gateway.tellSinks([behind(100, false)]);
  await new Promise((resolve) => setTimeout(resolve, 2_500));
  expect(heard.at(-1)!.state).toBe('acknowledged');
  rig.gateway.tellSinks([{ ...behind(0, true), waiting: 0 }]);
  await waitFor('it returns', () => heard.at(-1)?.state === 'normal');
  const reader = rig.reader();
  const { items } = reader.journal({ from: null, to: null, limit: 100, cursor: null });
  reader.close();
  expect(items.filter(({ subject }) => subject === ID).map(({ what }) => what)).toEqual([
    'raised',
    'acknowledged',
    'returned',
  ]);
}, 30_000);
