/** A receiver of our own as a process, with a table in a file. */
import { ReceiverTable } from '../crash/receiver-table.js';
import { sleep, startChild, stopChild, type Child } from '../support/child.js';
import { builtFile } from '../support/repository.js';
import type { HeldRow, Mortal } from './network-receiver.js';

const START_MS = 30_000;

export class ReceiverProcess implements Mortal {
  #child: Child | null = null;

  /** `args`: of tests/crash/receiver.ts, in front of and behind the table's file. */
  constructor(
    readonly name: string,
    private readonly file: string,
    private readonly args: readonly [kind: string, port: number, ...more: string[]],
    private readonly niceness: number,
  ) {}

  async start(): Promise<void> {
    const [kind, port, ...more] = this.args;
    const args = [builtFile('tests/crash/receiver.js'), kind, String(port), this.file, ...more];
    const child = startChild(process.execPath, args, { RECEIVER_NICENESS: String(this.niceness) });
    this.#child = child;
    for (const end = Date.now() + START_MS; !child.said().includes('ready'); await sleep(20))
      if (!child.isAlive() || Date.now() > end)
        throw new Error(`${this.name} did not start:\n${child.said()}`);
  }

  async kill(): Promise<void> {
    this.#child?.process.kill('SIGKILL');
    await this.#child?.ended;
  }

  async stop(): Promise<void> {
    if (this.#child !== null) await stopChild(this.#child);
  }

  countArrivals(): number {
    const table = new ReceiverTable(this.file);
    const count = table.countArrivals();
    table.close();
    return count;
  }

  /** When nothing came for half a second: a subscriber hears of a record after the publisher's PUBACK. */
  async held(): Promise<HeldRow[]> {
    for (let before = -1; before !== this.countArrivals(); await sleep(500)) before = this.countArrivals();
    const table = new ReceiverTable(this.file);
    const rows = table.rows();
    table.close();
    return rows.map(({ stream, key, revision, at }) => ({ stream, key, revision, at }));
  }
}
