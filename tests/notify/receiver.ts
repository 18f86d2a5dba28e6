/** A real HTTP server that answers as a test wishes, and remembers what it was sent. */
import { createServer, type IncomingHttpHeaders, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';

export interface Got {
  readonly headers: IncomingHttpHeaders;
  /** the very bytes */
  readonly body: Buffer;
}

export interface Receiver {
  readonly url: string;
  readonly got: Got[];
  /** answers of the next requests, in turn; after them 204 */
  answers: ((response: ServerResponse) => void)[];
  until(count: number, patienceMs?: number): Promise<readonly Got[]>;
  close(): Promise<void>;
}

export async function openReceiver(): Promise<Receiver> {
  const got: Got[] = [];
  const server = createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      got.push({ headers: request.headers, body: Buffer.concat(chunks) });
      const answer = receiver.answers.shift();
      if (answer === undefined) response.writeHead(204).end();
      else answer(response);
    });
    request.on('error', () => undefined);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  const receiver: Receiver = {
    ...{ url: `http://127.0.0.1:${port}/alarms`, got, answers: [] },
    until: async (count, patienceMs = 20_000) => {
      const end = Date.now() + patienceMs;
      while (got.length < count) {
        if (Date.now() > end) throw new Error(`${got.length} of ${count} requests after ${patienceMs} ms`);
        await new Promise((resolve) => setTimeout(resolve, 10));
      }
      return got;
    },
    close: async () => {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
  return receiver;
}

export function status(
  code: number,
  headers: Record<string, string> = {},
): (response: ServerResponse) => void {
  return (response) => void response.writeHead(code, headers).end('{}');
}
