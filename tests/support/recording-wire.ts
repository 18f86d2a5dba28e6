/** A wire to a broker that keeps every packet of the client, in order, as it stood on the wire. */
import { connect, createServer, type AddressInfo, type Socket } from 'node:net';
import { parser, type Packet } from 'mqtt-packet';

export interface RecordingWire {
  readonly port: number;
  readonly packets: Packet[];
  /** resets all connections: the broker tells the wills */
  cut(): void;
  close(): Promise<void>;
}

export async function startRecordingWire(target: number): Promise<RecordingWire> {
  const packets: Packet[] = [];
  const sockets = new Set<Socket>();
  const server = createServer((near) => {
    const far = connect(target, '127.0.0.1');
    const reader = parser({ protocolVersion: 4 });
    reader.on('packet', (packet) => packets.push(packet));
    near.on('data', (chunk) => {
      reader.parse(chunk);
      far.write(chunk);
    });
    far.on('data', (chunk) => near.write(chunk));
    for (const [socket, other] of [
      [near, far],
      [far, near],
    ] as const) {
      sockets.add(socket);
      socket.on('error', () => other.destroy());
      socket.on('close', () => {
        sockets.delete(socket);
        other.destroy();
      });
    }
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const cut = (): void => {
    for (const socket of sockets) socket.resetAndDestroy();
  };
  return {
    port: (server.address() as AddressInfo).port,
    packets,
    cut,
    close: () => {
      cut();
      return new Promise<void>((resolve) => server.close(() => resolve()));
    },
  };
}
