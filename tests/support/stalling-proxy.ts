/** A wire that can fall silent: it hands bytes on both ways until it is stalled, and then neither hands on nor closes. */
import { connect, createServer, type AddressInfo, type Socket } from 'node:net';

export interface StallingProxy {
  readonly port: number;
  /** bytes from now on go nowhere, and nobody is told */
  stall(): void;
  /** new connections and bytes go through again; connections that were stalled stay so */
  heal(): void;
  /** cuts all connections with a reset */
  cut(): void;
  close(): Promise<void>;
}

export async function startStallingProxy(target: number): Promise<StallingProxy> {
  const sockets = new Set<Socket>();
  let isStalled = false;
  const server = createServer({ allowHalfOpen: true }, (near) => {
    const far = connect({ port: target, host: '127.0.0.1', allowHalfOpen: true });
    let isDead = isStalled;
    for (const [from, to] of [
      [near, far],
      [far, near],
    ] as const) {
      sockets.add(from);
      from.on('data', (chunk) => {
        isDead ||= isStalled;
        if (!isDead) to.write(chunk);
      });
      from.on('end', () => {
        if (!isDead) to.end();
      });
      from.on('error', () => to.destroy());
      from.on('close', () => {
        sockets.delete(from);
        if (!isDead) to.destroy();
      });
    }
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const cut = (): void => {
    for (const socket of sockets) socket.resetAndDestroy();
  };
  return {
    port: (server.address() as AddressInfo).port,
    stall: () => (isStalled = true),
    heal: () => (isStalled = false),
    cut,
    close: () => {
      cut();
      return new Promise<void>((resolve) => server.close(() => resolve()));
    },
  };
}
