/** A server of our own that takes batches of CloudEvents. */
import { mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { freePort } from '../support/child.js';
import type { NetworkReceiver, ReceiverWishes } from './network-receiver.js';
import { ReceiverProcess } from './receiver-process.js';

export async function startHttpReceiver({ folder, niceness }: ReceiverWishes): Promise<NetworkReceiver> {
  const port = await freePort();
  mkdirSync(join(folder, 'http'), { recursive: true });
  const table = join(folder, 'http', 'received.db');
  const server = new ReceiverProcess('server of http', table, ['http', port], niceness);
  await server.start();
  return {
    ...{ kind: 'http', port },
    keys: (at) => ({ kind: 'http', url: `http://127.0.0.1:${at}/events` }),
    mortals: [server],
    held: () => server.held(),
    countArrivals: () => server.countArrivals(),
    poison: (key) => {
      if (key === null) rmSync(`${table}.poison`, { force: true });
      else writeFileSync(`${table}.poison`, key);
      return Promise.resolve();
    },
    stop: () => server.stop(),
  };
}
