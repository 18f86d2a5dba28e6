/** A way to a receiver that falls silent: packets vanish without a reset. Tells whether the sink has let go of its sockets. */
import { createConnection, createServer, type AddressInfo, type Socket } from 'node:net';

export interface SilentWay {
  readonly port: number;
  /** from now on bytes go nowhere, also of connections that come. The sockets that the sink had then */
  stall(): readonly Socket[];
  /** connections that come go through again; those of the silence stay dead */
  heal(): void;
  close(): Promise<void>;
}

export async function openSilentWay(target: number): Promise<SilentWay> {
  const nears = new Set<Socket>();
  const all = new Set<Socket>();
  let isSilent = false;
  const join = (from: Socket, to: Socket, way: { isDead: boolean }): void => {
    all.add(from);
    from.on('data', (chunk: Buffer) => {
      way.isDead ||= isSilent;
      if (!way.isDead) to.write(chunk);
    });
    from.on('error', () => from.destroy());
    from.on('close', () => {
      all.delete(from);
      nears.delete(from);
      // nobody is told of an end either
      if (!way.isDead && !isSilent) to.destroy();
    });
  };
  const server = createServer((near) => {
    const far = createConnection({ port: target, host: '127.0.0.1' });
    const way = { isDead: isSilent };
    nears.add(near);
    join(near, far, way);
    join(far, near, way);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return {
    port: (server.address() as AddressInfo).port,
    stall: () => {
      isSilent = true;
      return [...nears];
    },
    heal: () => {
      isSilent = false;
    },
    close: async () => {
      for (const socket of all) socket.destroy();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
