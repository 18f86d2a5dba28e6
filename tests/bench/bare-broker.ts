/** The broker library and nothing else, in a process of its own: what the gateway is measured against. */
import { Aedes } from 'aedes';
import { createServer } from 'node:net';

const port = Number(process.argv[2]);
if (!Number.isInteger(port) || port < 1 || port > 65_535) throw new Error('usage: bare-broker PORT');
const broker = await Aedes.createBroker();
const server = createServer((socket) => broker.handle(socket));
server.listen(port, '127.0.0.1');
process.once('SIGTERM', () => process.exit(0));
