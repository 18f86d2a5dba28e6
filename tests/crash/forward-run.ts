/**
 * The gateway and its receivers, killed with SIGKILL at random moments while records are forwarded: each on its own, so that any
 * of them may be dead while another dies.
 */
import { join } from 'node:path';
import { startReceivers } from '../receivers/receiver-hall.js';
import type { Mortal, NetworkReceiver } from '../receivers/network-receiver.js';
import { freePort, sleep } from '../support/child.js';
import { launchGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { seedRandom } from '../support/seeded-random.js';
import { FORWARD_MOTORS, FORWARD_SITE, PastPublisher, writeForwardPlant } from './forward-plant.js';
import { compareRows, judgeLedgers, nameRow, readFilesHeld, readStored } from './forward-verdict.js';

export interface ForwardCrashWishes {
  readonly folder: string;
  /** of the gateway, and as many of each receiver */
  readonly kills: number;
  readonly seed: number;
  readonly tell: (line: string) => void;
}

export interface ForwardCrashReport {
  readonly rows: number;
  readonly findings: readonly string[];
}

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** How long something lives before it is killed, and is dead before it is started, ms. */
const UP_MS_MAX = 2_000;
const DOWN_MS_MAX = 1_000;
/** files gather for twenty times what their last write took: on a busy disk minutes, by design, see src/forward/files.ts */
const PATIENCE_MS = 400_000;
/** For a gateway of low priority on a busy machine. */
const START_MS = 120_000;

class GatewayMortal implements Mortal {
  readonly name = 'gateway';
  process: GatewayProcess | null = null;

  constructor(
    readonly configFile: string,
    readonly dataDir: string,
    readonly ports: { readonly mqtt: number; readonly http: number },
  ) {}

  async start(): Promise<void> {
    this.process = await launchGatewayProcess(this);
    await this.process.untilLive(START_MS);
  }

  async kill(): Promise<void> {
    this.process?.child.process.kill('SIGKILL');
    await this.process?.child.ended;
  }
}

export async function runForwardCrashes(wishes: ForwardCrashWishes): Promise<ForwardCrashReport> {
  const { folder, kills, seed, tell } = wishes;
  const ports = { mqtt: await freePort(), http: await freePort() };
  const place = { folder: join(folder, 'receivers'), site: FORWARD_SITE, niceness: 0, savesEachChange: true };
  const receivers = await startReceivers(place);
  const keys = new Map(receivers.map((receiver) => [receiver.kind, receiver.keys(receiver.port)]));
  const gateway = new GatewayMortal(writeForwardPlant(folder, keys), join(folder, 'data'), ports);
  // two days ago, whole within one UTC day, so that it can be proved
  const day = Date.now() - (Date.now() % DAY_MS) - 2 * DAY_MS;
  let publishers: readonly PastPublisher[] = [];
  try {
    await gateway.start();
    publishers = FORWARD_MOTORS.map(
      (motor) => new PastPublisher(motor, ports.mqtt, day + HOUR_MS, day + 23 * HOUR_MS, 4 + 0.6 * kills),
    );
    const mortals = [gateway, ...receivers.flatMap((receiver) => receiver.mortals)];
    const doom = (mortal: Mortal, i: number) => killAgainAndAgain(mortal, kills, seedRandom(seed + i), tell);
    // all of them to their end: what one started late must be stopped too
    const ends = await Promise.allSettled(mortals.map(doom));
    for (const end of ends) if (end.status === 'rejected') throw end.reason;
    for (const publisher of publishers) await publisher.finish();
    return await judge(gateway, receivers, folder, day);
  } finally {
    for (const publisher of publishers) publisher.drop();
    await gateway.process?.stop();
    await Promise.all(receivers.map((receiver) => receiver.stop()));
  }
}

async function killAgainAndAgain(
  mortal: Mortal,
  kills: number,
  random: () => number,
  tell: (line: string) => void,
): Promise<void> {
  for (let kill = 1; kill <= kills; kill++) {
    await sleep(random() * UP_MS_MAX);
    await mortal.kill();
    await sleep(random() * DOWN_MS_MAX);
    await mortal.start();
    if (kill % 10 === 0) tell(`${mortal.name}: ${kill} kills`);
  }
}

async function judge(
  gateway: GatewayMortal,
  receivers: readonly NetworkReceiver[],
  folder: string,
  day: number,
): Promise<ForwardCrashReport> {
  const { dataDir } = gateway;
  const names = [...receivers.map(({ kind }) => kind), 'files'];
  const findings = await waitUntilForwarded(gateway.process!, names);
  await gateway.process!.stop();
  const stored = readStored(dataDir);
  for (const receiver of receivers)
    findings.push(...compareRows(receiver.kind, stored, await readHeld(receiver)));
  findings.push(...compareRows('files', stored, await readFilesHeld(join(folder, 'out'))));
  const provable = names.filter((name) => name === 'files' || name === 'postgres');
  findings.push(...(await judgeLedgers(gateway, names, provable, new Date(day).toISOString().slice(0, 10))));
  return { rows: stored.size, findings };
}

async function readHeld(receiver: NetworkReceiver): Promise<Set<string>> {
  return new Set((await receiver.held()).map(({ stream, key, revision }) => nameRow(stream, key, revision)));
}

interface Status {
  readonly sinks: readonly {
    readonly name: string;
    readonly waiting: number;
    readonly backlog: number;
    readonly backfills: readonly { readonly ended_at: string | null }[];
  }[];
}

/** Until nothing waits any more; what is found when it does for too long. */
async function waitUntilForwarded(gateway: GatewayProcess, names: readonly string[]): Promise<string[]> {
  let quiet = 0;
  let last = '';
  for (const end = Date.now() + PATIENCE_MS; Date.now() < end;) {
    await sleep(300);
    const answer = await fetch(`${gateway.http}/api/v1/sinks`);
    const { sinks } = (await answer.json()) as Status;
    last = JSON.stringify(sinks);
    const isDone = ({ waiting, backlog, backfills }: Status['sinks'][number]): boolean =>
      waiting + backlog === 0 && backfills.every(({ ended_at }) => ended_at !== null);
    quiet = sinks.length === names.length && sinks.every(isDone) ? quiet + 1 : 0;
    if (quiet >= 6) return [];
  }
  return [`not everything was forwarded within ${PATIENCE_MS} ms: ${last}`];
}
