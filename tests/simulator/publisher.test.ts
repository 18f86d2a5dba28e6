/** Live publishing against a broker that goes away and comes back. */
import { createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import { Aedes } from 'aedes';
import { expect, test } from 'vitest';
import { Publisher, publishPaced } from '../../simulator/publisher.js';
import { makeScenario, runHours, START } from './plants.js';

interface Broker {
  readonly port: number;
  readonly heard: Set<string>;
  kill(): Promise<void>;
}

async function startBroker(port: number): Promise<Broker> {
  const aedes = await Aedes.createBroker();
  const heard = new Set<string>();
  aedes.authorizePublish = (_client, packet, done) => {
    heard.add(`${packet.topic} ${packet.payload.toString()}`);
    done(null);
  };
  const sockets = new Set<Socket>();
  const server: Server = createServer((socket) => {
    sockets.add(socket);
    aedes.handle(socket);
  });
  await new Promise<void>((resolve) => server.listen(port, '127.0.0.1', resolve));
  const kill = async (): Promise<void> => {
    for (const socket of sockets) socket.destroy();
    await new Promise<void>((resolve) => server.close(() => resolve()));
    await new Promise<void>((resolve) => aedes.close(() => resolve()));
  };
  return { port: (server.address() as AddressInfo).port, heard, kill };
}

test('what a broker did not acknowledge before it died is sent again to the next one', async () => {
  const { messages } = runHours(makeScenario({ intervalMs: 500 }), 0.1);
  const first = await startBroker(0);
  const publisher = new Publisher(`mqtt://127.0.0.1:${first.port}`);
  const publishing = publishPaced(publisher, [messages], { from: START, speed: 150 });
  await new Promise((resolve) => setTimeout(resolve, 800));
  await first.kill();
  const second = await startBroker(first.port);
  await publishing;
  await publisher.finish(20_000);
  await second.kill();
  const { published, acknowledged } = publisher.tally;
  expect(acknowledged).toBe(published);
  const heard = new Set([...first.heard, ...second.heard]);
  const missing = messages.filter(({ event, topic, payload }) => {
    return event === undefined && !heard.has(`${topic} ${JSON.stringify(payload)}`);
  });
  expect(missing).toEqual([]);
  expect(second.heard.size).toBeGreaterThan(100);
});
