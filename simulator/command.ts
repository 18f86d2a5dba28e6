/** The simulator's one command: a plant from a scenario, live over MQTT or as a capture, with its truth beside it. */
import { writeFileSync } from 'node:fs';
import { HELP, readArguments, UsageError, type Wish } from './arguments.js';
import { writeCapture } from './capture.js';
import { writeGatewayConfig } from './gateway-config.js';
import { openPlant, type Plant } from './plant.js';
import { probeEndpoint, Publisher, publishPaced } from './publisher.js';
import { readScenario } from './scenario-file.js';
import { ScenarioFileError } from './scenario-problem.js';
import { DEFAULT_START, streamMessages } from './simulation.js';

const HOUR_MS = 3_600_000;
const ACKNOWLEDGE_PATIENCE_MS = 60_000;

/** Where the command speaks: `say` what was done, `complain` what was not. */
export interface Voice {
  say(line: string): void;
  complain(line: string): void;
}

/** Resolves to the exit code: 0 done, 1 it could not be done, 2 wrong arguments or scenario. */
export async function runSimulator(args: readonly string[], voice: Voice): Promise<number> {
  try {
    return await run(args, voice);
  } catch (error) {
    if (error instanceof UsageError) voice.complain(`simulate: ${error.message}. See --help.`);
    else if (error instanceof ScenarioFileError) voice.complain(error.message);
    else if (isFileError(error))
      voice.complain(`simulate: ${error.message}; give a path that can be written`);
    else throw error;
    return isFileError(error) ? 1 : 2;
  }
}

function isFileError(error: unknown): error is NodeJS.ErrnoException {
  return error instanceof Error && 'syscall' in error;
}

async function run(args: readonly string[], voice: Voice): Promise<number> {
  const wish = readArguments(args);
  if (wish === null) {
    voice.say(HELP);
    return 0;
  }
  const scenario = readScenario(wish.scenario);
  if (wish.config !== null) writeFileSync(wish.config, writeGatewayConfig(scenario));
  if (wish.output.kind === 'none' && wish.truth === null) return 0;
  const plant = openPlant(scenario, wish.seed, wish.hours, findStart(wish));
  const code = await produce(wish, plant, voice);
  if (wish.truth !== null) writeFileSync(wish.truth, JSON.stringify(plant.tellTruth()));
  return code;
}

/** A live run ends at now, so that no time in it lies in the future: at speed 1 it begins at now. */
function findStart({ start, output, hours }: Wish): number {
  if (start !== null) return start;
  if (output.kind !== 'mqtt') return DEFAULT_START;
  return Math.round(Date.now() - hours * HOUR_MS * (1 - 1 / Math.max(1, output.speed)));
}

async function produce(wish: Wish, plant: Plant, voice: Voice): Promise<number> {
  const { output } = wish;
  if (output.kind === 'mqtt') return publishLive(plant, output, wish.hours, voice);
  if (output.kind === 'capture') {
    const tally = await writeCapture(output.path, streamMessages(plant));
    voice.say(
      `${output.path}: ${tally.messages} messages, ${tally.readings} readings of ${countSensors(plant)} sensors in ${wish.hours} h`,
    );
    return 0;
  }
  const chunks = streamMessages(plant);
  while (chunks.next().done !== true);
  return 0;
}

function countSensors(plant: Plant): number {
  let sensors = 0;
  for (const motor of plant.scenario.motors.values()) sensors += motor.positions.size;
  return sensors;
}

async function publishLive(
  plant: Plant,
  { host, port, speed }: { host: string; port: number; speed: number },
  hours: number,
  voice: Voice,
): Promise<number> {
  const refusal = await probeEndpoint(host, port);
  if (refusal !== null) {
    voice.complain(`simulate: nobody listens on ${host}:${port} (${refusal}); start the gateway first`);
    return 1;
  }
  const stop = new AbortController();
  process.once('SIGINT', () => stop.abort());
  process.once('SIGTERM', () => stop.abort());
  const publisher = new Publisher(`mqtt://${host.includes(':') ? `[${host}]` : host}:${port}`);
  const began = performance.now();
  voice.say(
    `${countSensors(plant)} sensors on ${plant.lives.size} motors, ${hours} h at ${speed} times their pace, to ${host}:${port}`,
  );
  await publishPaced(publisher, streamMessages(plant), { from: plant.span.from, speed }, stop.signal);
  await publisher.finish(ACKNOWLEDGE_PATIENCE_MS);
  const { published, acknowledged, failed, connections } = publisher.tally;
  const seconds = ((performance.now() - began) / 1_000).toFixed(1);
  voice.say(
    `${published} messages published, ${acknowledged} acknowledged, ${failed} failed, ${connections} connections, ${seconds} s`,
  );
  if (acknowledged === published) return 0;
  voice.complain(
    `simulate: ${published - acknowledged} messages were not acknowledged (${publisher.lastError ?? 'no error'})`,
  );
  return 1;
}
