/** The thread that reads captures for a replay: files in, pages out, never more of them under way than are asked for. */
import { parentPort, workerData } from 'node:worker_threads';
import { PagePacker } from './capture-page.js';
import { PAGES_AHEAD, readFiles, type FromSource, type SourceSettings } from './capture-source.js';

const port = parentPort;
if (port === null) throw new Error('captures are read on a worker thread: start it through capture-source');
const { files, plan, badLinesMax } = workerData as SourceSettings;

let credit = PAGES_AHEAD;
let wake: (() => void) | null = null;
port.on('message', () => {
  credit += 1;
  wake?.();
});

function post(message: FromSource, transfer: readonly ArrayBuffer[] = []): void {
  port!.postMessage(message, [...transfer]);
}

async function send(): Promise<void> {
  const packer = new PagePacker(plan);
  const onBadLine = (bad: Extract<FromSource, { kind: 'bad' }>['bad']): void => post({ kind: 'bad', bad });
  for await (const { lines, bytes } of readFiles({ files, badLinesMax, onBadLine })) {
    while (credit === 0) await new Promise<void>((resolve) => (wake = resolve));
    credit -= 1;
    const page = packer.pack(lines, bytes);
    post({ kind: 'page', page }, [page.numbers.buffer, page.places.buffer]);
  }
  post({ kind: 'end' });
}

function textOf(error: object, field: string): string {
  const value = (error as Record<string, unknown>)[field];
  return typeof value === 'string' ? value : '';
}

send()
  .catch((reason: unknown) => {
    const error = reason instanceof Error ? reason : new Error(String(reason));
    const { message } = error;
    post({ kind: 'failed', message, code: textOf(error, 'code'), hint: textOf(error, 'hint') });
  })
  .finally(() => port.close());
