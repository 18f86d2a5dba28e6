/** The gateway and its receivers, killed with SIGKILL at random moments while records are forwarded. */
import { join } from 'node:path';
import { freePort, sleep, startChild, stopChild, type Child } from '../support/child.js';
import { launchGatewayProcess, type GatewayProcess } from '../support/gateway-process.js';
import { makeMosquitto, untilListening, type Mosquitto } from '../support/mosquitto-broker.js';
import { builtFile } from '../support/repository.js';
import { seedRandom } from '../support/seeded-random.js';
import { FORWARD_MOTORS, PastPublisher, writeForwardPlant, type ForwardPorts } from './forward-plant.js';
import { compareRows, judgeLedgers, readFilesHeld, readReceived, readStored } from './forward-verdict.js';

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
const UP_MS_MAX = 1_500;
const PATIENCE_MS = 90_000;

class Scene {
  gateway!: GatewayProcess;
  server!: Child;
  subscriber!: Child;
  readonly broker: Mosquitto;
  readonly dataDir: string;
  readonly configFile: string;
  readonly tables: { readonly broker: string; readonly events: string };

  constructor(
    private readonly folder: string,
    private readonly ports: ForwardPorts,
  ) {
    this.dataDir = join(folder, 'data');
    this.configFile = writeForwardPlant(folder, ports);
    this.broker = makeMosquitto({ folder: join(folder, 'broker'), port: ports.broker });
    this.tables = { broker: join(folder, 'broker.db'), events: join(folder, 'events.db') };
  }

  async start(): Promise<void> {
    await this.broker.start();
    this.subscriber = this.#receiver('mqtt', this.ports.broker, this.tables.broker);
    for (let i = 0; i < 500 && !this.subscriber.said().includes('ready'); i++) await sleep(20);
    await this.startServer();
    await this.startGateway();
  }

  #receiver(kind: string, port: number, file: string): Child {
    return startChild(process.execPath, [builtFile('tests/crash/receiver.js'), kind, String(port), file]);
  }

  async startServer(): Promise<void> {
    this.server = this.#receiver('http', this.ports.receiver, this.tables.events);
    await untilListening(this.ports.receiver, this.server);
  }

  async startGateway(): Promise<void> {
    const { configFile, dataDir, ports } = this;
    this.gateway = await launchGatewayProcess({ configFile, dataDir, ports });
    await this.gateway.untilLive();
  }

  async stop(): Promise<void> {
    await this.gateway.stop();
    await stopChild(this.server);
    await stopChild(this.subscriber);
    await this.broker.stop();
  }

  filesFolder(): string {
    return join(this.folder, 'out');
  }
}

export async function runForwardCrashes(wishes: ForwardCrashWishes): Promise<ForwardCrashReport> {
  const { kills, seed, tell } = wishes;
  const random = seedRandom(seed);
  const ports = {
    ...{ mqtt: await freePort(), http: await freePort() },
    ...{ broker: await freePort(), receiver: await freePort() },
  };
  const scene = new Scene(wishes.folder, ports);
  await scene.start();
  // two days ago, whole within one UTC day, so that it can be proved
  const day = Date.now() - (Date.now() % DAY_MS) - 2 * DAY_MS;
  const publishers = FORWARD_MOTORS.map(
    (motor) => new PastPublisher(motor, ports.mqtt, day + HOUR_MS, day + 23 * HOUR_MS, 4 + 0.6 * kills),
  );
  for (let kill = 1; kill <= kills; kill++) {
    await crashEach(scene, random);
    if (kill % 10 === 0) tell(`${kill} kills of each`);
  }
  for (const publisher of publishers) await publisher.finish();
  const findings = await waitUntilForwarded(scene.gateway);
  await scene.gateway.stop();
  await sleep(1_000);
  const stored = readStored(scene.dataDir);
  findings.push(
    ...compareRows('broker', stored, readReceived(scene.tables.broker)),
    ...compareRows('events', stored, readReceived(scene.tables.events)),
    ...compareRows('files', stored, await readFilesHeld(scene.filesFolder())),
    ...(await judgeLedgers(scene.dataDir, scene.configFile, new Date(day).toISOString().slice(0, 10))),
  );
  await scene.stop();
  return { rows: stored.size, findings };
}

async function crashEach(scene: Scene, random: () => number): Promise<void> {
  await sleep(random() * UP_MS_MAX);
  scene.gateway.child.process.kill('SIGKILL');
  await scene.gateway.child.ended;
  await scene.startGateway();
  await sleep(random() * UP_MS_MAX);
  scene.server.process.kill('SIGKILL');
  await scene.server.ended;
  await sleep(random() * UP_MS_MAX);
  await scene.startServer();
  await sleep(random() * UP_MS_MAX);
  await scene.broker.kill();
  await sleep(random() * UP_MS_MAX);
  await scene.broker.start();
}

interface Status {
  readonly sinks: readonly {
    readonly name: string;
    readonly waiting: number;
    readonly backlog: number;
    state: string;
  }[];
}

/** Until nothing waits any more; what is found when it does for too long. */
async function waitUntilForwarded(gateway: GatewayProcess): Promise<string[]> {
  let quiet = 0;
  let last = '';
  for (const end = Date.now() + PATIENCE_MS; Date.now() < end;) {
    await sleep(500);
    const answer = await fetch(`${gateway.http}/api/v1/sinks`);
    const { sinks } = (await answer.json()) as Status;
    last = JSON.stringify(sinks);
    const isDone = sinks.length === 3 && sinks.every(({ waiting, backlog }) => waiting + backlog === 0);
    quiet = isDone ? quiet + 1 : 0;
    if (quiet >= 6) return [];
  }
  return [`not everything was forwarded within ${PATIENCE_MS} ms: ${last}`];
}
