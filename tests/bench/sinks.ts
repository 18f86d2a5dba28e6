/**
 * What forwarding costs whoever waits for an acknowledgement: the same load, in turns, on a gateway without sinks, on one with all
 * five of which one is dead (a connection that swallows everything), and on that one with the servers for PLC and HMI besides and
 * a client that reads each.
 *
 * Receivers and clients are other machines on a site. Here they are processes of their own with the lowest priority (nice 19), so
 * that they take from the gateway only what it leaves; the load is the generator's, as everywhere in this bench. Readings move
 * event time on by ten seconds each, so that six of them make a rollup to be forwarded, as the real ones of a minute do.
 */
import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { startReceivers } from '../receivers/receiver-hall.js';
import type { NetworkReceiver } from '../receivers/network-receiver.js';
import { openSilentWay } from '../receivers/silent-way.js';
import { freePort, readCpuSeconds, sleep, startChild, stopChild, type Child } from '../support/child.js';
import { startGatewayProcess } from '../support/gateway-process.js';
import { builtFile } from '../support/repository.js';
import { runLoad, type LoadReport } from './load.js';
import { writePlantFile } from './plant-file.js';
import { median } from './spread.js';

const SITE = 'bench';
const STEP_MS = 10_000;
const LOWEST = 19;
const SETTLE_MS = 3_000;

export const SINK_ARMS = ['without', 'sinks', 'sinks-and-servers'] as const;
export type SinkArm = (typeof SINK_ARMS)[number];

export interface SinkBenchWishes {
  readonly folder: string;
  /** the compiled load generator */
  readonly program: string;
  readonly arms: readonly SinkArm[];
  readonly rounds: number;
  readonly seconds: number;
  readonly connections: number;
  readonly perSecond: number;
  tell(line: string): void;
}

interface Turn {
  readonly load: LoadReport;
  /** cores of the gateway with its servers' processes left out, on average */
  readonly cores: number;
  /** records that each sink took while the load ran */
  readonly taken: Readonly<Record<string, number>>;
}

export interface SinkArmResult {
  readonly arm: SinkArm;
  readonly p50Us: number;
  readonly p99Us: number;
  readonly cores: number;
  /** of the p99 to that without sinks in the same round; empty for that one */
  readonly ratios: readonly number[];
  readonly ratio: number | null;
  readonly taken: Readonly<Record<string, number>>;
}

export async function measureSinks(wishes: SinkBenchWishes): Promise<SinkArmResult[]> {
  const { folder, arms, rounds } = wishes;
  const receivers = await startReceivers({ folder: join(folder, 'receivers'), site: SITE, niceness: LOWEST });
  const turns = new Map<SinkArm, Turn[]>(arms.map((arm) => [arm, []]));
  try {
    for (let round = 0; round < rounds; round++)
      for (let i = 0; i < arms.length; i++) {
        const arm = arms[(round + i) % arms.length]!;
        const turn = await runTurn(arm, receivers, wishes);
        turns.get(arm)!.push(turn);
        const { p50Us, p99Us } = turn.load;
        wishes.tell(
          `round ${round + 1}, ${arm}: p50 ${p50Us} us, p99 ${p99Us} us, ${turn.cores.toFixed(2)} cores`,
        );
      }
  } finally {
    await Promise.all(receivers.map((receiver) => receiver.stop()));
  }
  return arms.map((arm) => summarise(arm, turns.get(arm)!, turns.get('without')!));
}

async function runTurn(
  arm: SinkArm,
  receivers: readonly NetworkReceiver[],
  wishes: SinkBenchWishes,
): Promise<Turn> {
  const folder = join(wishes.folder, arm);
  rmSync(folder, { recursive: true, force: true });
  const dead = await openSilentWay(receivers.find(({ kind }) => kind === 'http')!.port);
  dead.stall();
  const ports = { modbus: await freePort(), opcua: await freePort() };
  const sections = [
    ...(arm === 'without' ? [] : [describeSinks(receivers, dead.port)]),
    ...(arm === 'sinks-and-servers' ? [describeServers(ports)] : []),
  ];
  const plant = { site: SITE, motors: wishes.connections, intervalMs: STEP_MS, closesAtOnce: true, sections };
  const configFile = writePlantFile(folder, plant);
  const gateway = await startGatewayProcess({ configFile, dataDir: join(folder, 'data') });
  const clients = arm === 'sinks-and-servers' ? startClients(ports) : [];
  try {
    for (const client of clients) await untilReading(client);
    const { program, connections, perSecond, seconds: measured } = wishes;
    const warmupSeconds = Math.min(3, measured);
    const seconds = measured + warmupSeconds;
    const before = readCpuSeconds(gateway.child.pid) ?? 0;
    const load = await runLoad(program, {
      ...{ port: gateway.mqttPort, site: SITE, connections, window: 1, stepMs: STEP_MS },
      ...{ behindMs: 86_400_000, seconds: measured, warmupSeconds, perSecond },
    });
    const cpu = (readCpuSeconds(gateway.child.pid) ?? 0) - before;
    // the last batch is taken within seconds, however little the load leaves of the cores
    await sleep(SETTLE_MS);
    const taken = await readTaken(gateway.http);
    for (const client of clients)
      if (!client.isAlive()) throw new Error(`a client of the servers ended: ${client.said()}`);
    return { load, cores: cpu / seconds, taken };
  } finally {
    for (const client of clients) await stopChild(client);
    await gateway.stop();
    await dead.close();
  }
}

function describeSinks(receivers: readonly NetworkReceiver[], deadPort: number): string {
  const keys = receivers.map((receiver) => ({
    name: receiver.kind,
    ...receiver.keys(receiver.kind === 'http' ? deadPort : receiver.port),
  }));
  const files = { name: 'files', kind: 'files', folder: 'out', everyS: 5 };
  return `sinks:\n${[...keys, files].map((sink) => `  - ${JSON.stringify(sink)}`).join('\n')}`;
}

function describeServers({ modbus, opcua }: { readonly modbus: number; readonly opcua: number }): string {
  return `modbus: { listen: "127.0.0.1:${modbus}" }
opcua: { listen: "127.0.0.1:${opcua}", security: [none], anonymous: true }`;
}

/** Each reads once a second. */
function startClients({ modbus, opcua }: { readonly modbus: number; readonly opcua: number }): Child[] {
  const nice = ['-n', String(LOWEST), process.execPath];
  return (
    [
      ['modbus', modbus],
      ['opcua', opcua],
    ] as const
  ).map(([kind, port]) =>
    startChild('nice', [...nice, builtFile('tests/bench/plc-reader.js'), kind, String(port)]),
  );
}

async function untilReading(client: Child): Promise<void> {
  for (; !client.said().includes('reading'); await sleep(100))
    if (!client.isAlive()) throw new Error(`a client of the servers ended: ${client.said()}`);
}

async function readTaken(http: string): Promise<Record<string, number>> {
  const answer = await fetch(`${http}/api/v1/sinks`);
  const { sinks } = (await answer.json()) as { sinks: { name: string; taken: number }[] };
  return Object.fromEntries(sinks.map(({ name, taken }) => [name, taken]));
}

function summarise(arm: SinkArm, own: readonly Turn[], without: readonly Turn[]): SinkArmResult {
  const ratios = arm === 'without' ? [] : own.map((turn, i) => turn.load.p99Us / without[i]!.load.p99Us);
  const names = Object.keys(own[0]!.taken);
  return {
    arm,
    p50Us: median(own.map(({ load }) => load.p50Us)),
    p99Us: median(own.map(({ load }) => load.p99Us)),
    cores: median(own.map(({ cores }) => cores)),
    ...{ ratios, ratio: ratios.length === 0 ? null : median(ratios) },
    taken: Object.fromEntries(names.map((name) => [name, median(own.map(({ taken }) => taken[name]!))])),
  };
}

export function formatSinks(results: readonly SinkArmResult[]): string {
  const two = (value: number): string => value.toFixed(2);
  return results
    .map(({ arm, p50Us, p99Us, cores, ratio, ratios, taken }) =>
      [
        `${arm}: acknowledge p50 ${p50Us} us, p99 ${p99Us} us, ${two(cores)} cores`,
        ...(ratio === null ? [] : [`ratio of the p99 ${two(ratio)} (${ratios.map(two).join(', ')})`]),
        ...(ratio === null
          ? []
          : [
              `taken: ${Object.entries(taken)
                .map(([n, c]) => `${n} ${c}`)
                .join(', ')}`,
            ]),
      ].join('; '),
    )
    .join('\n');
}
