/**
 * A receiver in a process of its own, to be killed. `node receiver.js http PORT FILE`: takes batches of CloudEvents, and refuses
 * one that holds a key that stands in FILE.poison; `node receiver.js mqtt PORT FILE`: subscribes at a broker with a session that
 * lasts; `node receiver.js sparkplug PORT FILE HOST`: the primary host HOST at a broker.
 */
import { existsSync, readFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { setPriority } from 'node:os';
import { gunzipSync } from 'node:zlib';
import { connect } from 'mqtt';
import { ReceiverTable, rowOf } from './receiver-table.js';
import { runHost } from './sparkplug-host.js';

const [kind, port = '', file = '', host = ''] = process.argv.slice(2);
const table = new ReceiverTable(file);
// on a site it is another machine
if (process.env['RECEIVER_NICENESS'] !== undefined) setPriority(0, Number(process.env['RECEIVER_NICENESS']));

if (kind === 'http') serve();
else if (kind === 'sparkplug') runHost(Number(port), host, (rows) => table.take(rows));
else listen();

function readPoison(): readonly string[] {
  const path = `${file}.poison`;
  return existsSync(path) ? readFileSync(path, 'utf8').split('\n').filter(Boolean) : [];
}

function serve(): void {
  const server = createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      const body = Buffer.concat(chunks);
      const text = request.headers['content-encoding'] === 'gzip' ? gunzipSync(body) : body;
      const events = JSON.parse(text.toString()) as { data: Parameters<typeof rowOf>[0] }[];
      const poison = readPoison();
      if (events.some(({ data }) => poison.includes(data.key))) {
        response.writeHead(422).end('poison: this receiver does not take that record');
        return;
      }
      table.take(events.map(({ data }) => rowOf(data)));
      response.writeHead(204).end();
    });
  });
  server.listen(Number(port), '127.0.0.1', () => console.log('ready'));
}

function listen(): void {
  const client = connect(`mqtt://127.0.0.1:${port}`, {
    ...{ clientId: 'receiver', clean: false, reconnectPeriod: 50, resubscribe: true },
  });
  client.on('error', () => undefined);
  client.on('connect', () => client.subscribe('tallypost/#', { qos: 1 }, () => console.log('ready')));
  // many at once, because each commit is synced
  let heard: ReturnType<typeof rowOf>[] = [];
  client.on('message', (_topic, payload) => {
    if (heard.length === 0)
      setImmediate(() => {
        table.take(heard);
        heard = [];
      });
    heard.push(rowOf(JSON.parse(payload.toString()) as Parameters<typeof rowOf>[0]));
  });
}
