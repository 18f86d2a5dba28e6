/** Debian's broker with a subscriber, and with the primary host of an edge node. */
import { join } from 'node:path';
import { freePort } from '../support/child.js';
import { makeMosquitto, type Mosquitto } from '../support/mosquitto-broker.js';
import type { NetworkReceiver, ReceiverWishes } from './network-receiver.js';
import { ReceiverProcess } from './receiver-process.js';

const HOST = 'control-room';

interface Parts {
  readonly port: number;
  readonly broker: Mosquitto;
  readonly folder: string;
}

async function startBroker(
  { folder, niceness, savesEachChange = false }: ReceiverWishes,
  name: string,
  lines: readonly string[],
): Promise<Parts> {
  const port = await freePort();
  const own = join(folder, name);
  const broker = makeMosquitto({ folder: own, port, lines, niceness, savesEachChange });
  await broker.start();
  return { port, broker, folder: own };
}

/** `lines`: of the broker's configuration. */
export async function startMqttReceiver(
  wishes: ReceiverWishes,
  lines: readonly string[] = [],
): Promise<NetworkReceiver> {
  const { port, broker, folder } = await startBroker(wishes, 'mqtt', lines);
  const table = join(folder, 'received.db');
  const subscriber = new ReceiverProcess('subscriber', table, ['mqtt', port], wishes.niceness);
  await subscriber.start();
  return {
    ...{ kind: 'mqtt', port },
    keys: (at) => ({ kind: 'mqtt', url: `mqtt://127.0.0.1:${at}` }),
    // its session lasts, so a subscriber that dies is the receiver's own affair
    mortals: [{ name: 'broker of mqtt', kill: () => broker.kill(), start: () => broker.start() }],
    held: () => subscriber.held(),
    countArrivals: () => subscriber.countArrivals(),
    stop: async () => {
      await subscriber.stop();
      await broker.stop();
    },
  };
}

/** `lines`: of the broker's configuration. */
export async function startSparkplugReceiver(
  wishes: ReceiverWishes,
  lines: readonly string[] = [],
): Promise<NetworkReceiver> {
  const { port, broker, folder } = await startBroker(wishes, 'sparkplug', lines);
  const table = join(folder, 'received.db');
  const host = new ReceiverProcess('host of sparkplug', table, ['sparkplug', port, HOST], wishes.niceness);
  await host.start();
  return {
    ...{ kind: 'sparkplug', port },
    keys: (at) => ({
      ...{ kind: 'sparkplug', url: `mqtt://127.0.0.1:${at}`, node: 'pump-house', primaryHost: HOST },
    }),
    mortals: [{ name: 'broker of sparkplug', kill: () => broker.kill(), start: () => broker.start() }, host],
    held: () => host.held(),
    countArrivals: () => host.countArrivals(),
    stop: async () => {
      await host.stop();
      await broker.stop();
    },
  };
}
