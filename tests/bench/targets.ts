/** What the load is put on: the bare broker library, the gateway, and the C broker where it is installed. */
import { spawnSync } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import { freePort, sleep, startChild, stopChild, type Child } from '../support/child.js';
import { startGatewayProcess } from '../support/gateway-process.js';
import { builtFile } from '../support/repository.js';
import { writePlantFile, type PlantWishes } from './plant-file.js';

export type TargetName = 'bare' | 'gateway' | 'mosquitto';

export interface RunningTarget {
  readonly name: TargetName;
  readonly port: number;
  readonly pid: number;
  /** where the gateway keeps its data; null for the others */
  readonly dataDir: string | null;
  stop(): Promise<void>;
}

/** The targets that can be started on this machine. */
export function findTargets(): TargetName[] {
  const hasMosquitto = spawnSync('mosquitto', ['-h']).error === undefined;
  return hasMosquitto ? ['bare', 'gateway', 'mosquitto'] : ['bare', 'gateway'];
}

/** Starts a target afresh, with its files in `folder`. */
export async function startTarget(
  name: TargetName,
  folder: string,
  plant: PlantWishes,
): Promise<RunningTarget> {
  mkdirSync(folder, { recursive: true });
  if (name === 'gateway') {
    const dataDir = join(folder, 'data');
    const gateway = await startGatewayProcess({ configFile: writePlantFile(folder, plant), dataDir });
    return { name, port: gateway.mqttPort, pid: gateway.child.pid, dataDir, stop: () => gateway.stop() };
  }
  const port = await freePort();
  const child = name === 'bare' ? startBare(port) : startMosquitto(port, folder);
  await waitForPort(child, port);
  return { name, port, pid: child.pid, dataDir: null, stop: () => stopChild(child) };
}

function startBare(port: number): Child {
  return startChild(process.execPath, [builtFile('tests/bench/bare-broker.js'), String(port)]);
}

function startMosquitto(port: number, folder: string): Child {
  const file = join(folder, 'mosquitto.conf');
  writeFileSync(
    file,
    `listener ${port} 127.0.0.1\nallow_anonymous true\nmax_inflight_messages 0\npersistence false\nset_tcp_nodelay true\n`,
  );
  return startChild('mosquitto', ['-c', file]);
}

async function waitForPort(child: Child, port: number): Promise<void> {
  for (let i = 0; i < 200; i++) {
    if (!child.isAlive()) throw new Error(`the broker ended while it started:\n${child.said()}`);
    if (await canConnect(port)) return;
    await sleep(25);
  }
  throw new Error(`nobody listens on port ${port} after 5 s:\n${child.said()}`);
}

function canConnect(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1');
    socket.once('connect', () => {
      socket.destroy();
      resolve(true);
    });
    socket.once('error', () => resolve(false));
  });
}
