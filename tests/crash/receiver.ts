/**
 * A receiver in a process of its own, to be killed. `node receiver.js http PORT FILE`: takes batches of CloudEvents;
 * `node receiver.js mqtt PORT FILE`: subscribes at a broker with a session that lasts.
 */
import { createServer } from 'node:http';
import { gunzipSync } from 'node:zlib';
import { connect } from 'mqtt';
import { ReceiverTable, rowOf } from './receiver-table.js';

const [kind, port = '', file = ''] = process.argv.slice(2);
const table = new ReceiverTable(file);

if (kind === 'http') serve();
else listen();

function serve(): void {
  const server = createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      const body = Buffer.concat(chunks);
      const text = request.headers['content-encoding'] === 'gzip' ? gunzipSync(body) : body;
      const events = JSON.parse(text.toString()) as { data: Parameters<typeof rowOf>[0] }[];
      if (events.some(({ data }) => data.key.startsWith('poison'))) {
        response.writeHead(422).end('poison');
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
