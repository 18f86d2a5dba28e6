/** `node plc-reader.js modbus|opcua PORT`: a client of a server for PLC or HMI that reads all it shows once a second, for ever. */
import { mkdtempSync, rmSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { sleep } from '../support/child.js';

const EVERY_MS = 1_000;
const REGISTERS = 120;
/** How long a server may take to listen: the package of OPC UA reads its description of the world first. */
const START_MS = 240_000;

const [kind, port = ''] = process.argv.slice(2);
await (kind === 'modbus' ? readRegisters(Number(port)) : readNodes(Number(port)));

async function tryUntilThere<T>(attempt: () => Promise<T>): Promise<T> {
  for (const end = Date.now() + START_MS; ; await sleep(500))
    try {
      return await attempt();
    } catch (error) {
      if (Date.now() > end) throw error;
    }
}

function openSocket(at: number): Promise<Socket> {
  return new Promise((resolve, reject) => {
    const socket = connect({ port: at, host: '127.0.0.1' }, () => resolve(socket));
    socket.once('error', reject);
  });
}

/** Function 3, from address 0. Source: Modbus Application Protocol 1.1b3, 6.3; MBAP header of the TCP guide, 3.1.3. */
async function readRegisters(at: number): Promise<void> {
  const socket = await tryUntilThere(() => openSocket(at));
  const request = Buffer.from([0, 1, 0, 0, 0, 6, 1, 3, 0, 0, 0, REGISTERS]);
  for (;;) {
    const answered = new Promise((resolve, reject) => {
      socket.once('data', resolve);
      socket.once('close', () => reject(new Error('the server closed the connection')));
    });
    socket.write(request);
    await answered;
    socket.removeAllListeners('close');
    console.log('reading');
    await sleep(EVERY_MS);
  }
}

async function readNodes(at: number): Promise<void> {
  const { connectHmi } = await import('../plc/opcua-client.js');
  await tryUntilThere(() => openSocket(at).then((socket) => socket.destroy()));
  // one certificate for all attempts: making it takes seconds
  const folder = mkdtempSync(join(tmpdir(), 'tallypost-reader-'));
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
  process.on('SIGTERM', () => process.exit());
  const hmi = await tryUntilThere(() => connectHmi({ port: at, folder }));
  for (;;) {
    // Server_ServerStatus_CurrentTime and what the gateway's own folder holds
    await hmi.session.read({ nodeId: 'i=2258' });
    await hmi.session.browse('i=85');
    console.log('reading');
    await sleep(EVERY_MS);
  }
}
