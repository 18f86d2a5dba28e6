/** A way to a receiver that can go dead without a word: connections stay open, and no byte passes any more. */
import { createConnection, createServer, type AddressInfo, type Socket } from 'node:net';

export interface StallingProxy {
  readonly port: number;
  /** true: bytes that come are swallowed, in both directions, also of connections that stand */
  isStalled: boolean;
  /** connections that stand now */
  count(): number;
  close(): Promise<void>;
}

export async function openStallingProxy(target: number): Promise<StallingProxy> {
  const sockets = new Set<Socket>();
  const keep = (socket: Socket): void => {
    sockets.add(socket);
    socket.on('error', () => socket.destroy());
    socket.on('close', () => sockets.delete(socket));
  };
  const server = createServer((near) => {
    keep(near);
    const far = createConnection({ port: target, host: '127.0.0.1' });
    keep(far);
    const join = (from: Socket, to: Socket): void => {
      from.on('data', (chunk: Buffer) => {
        if (!proxy.isStalled) to.write(chunk);
      });
      from.on('close', () => {
        if (!proxy.isStalled) to.destroy();
      });
    };
    join(near, far);
    join(far, near);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const proxy: StallingProxy = {
    ...{ port: (server.address() as AddressInfo).port, isStalled: false },
    count: () => sockets.size,
    close: async () => {
      for (const socket of sockets) socket.destroy();
      await new Promise((resolve) => server.close(resolve));
    },
  };
  return proxy;
}
