/** `npm run simulate`: a plant from a scenario, live over MQTT or as a capture, with its truth beside it. */
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

/** Returns the exit code: 0 done, 1 it could not be done, 2 wrong arguments or scenario. */
async function run(args: readonly string[]): Promise<number> {
  const wish = readArguments(args);
  if (wish === null) {
    console.log(HELP);
    return 0;
  }
  const scenario = readScenario(wish.scenario);
  if (wish.config !== null) writeFileSync(wish.config, writeGatewayConfig(scenario));
  if (wish.output.kind === 'none' && wish.truth === null) return 0;
  const plant = openPlant(scenario, wish.seed, wish.hours, findStart(wish));
  const code = await produce(wish, plant);
  if (wish.truth !== null) writeFileSync(wish.truth, JSON.stringify(plant.tellTruth()));
  return code;
}

/** A live run ends at now, so that no time in it lies in the future: at speed 1 it begins at now. */
function findStart({ start, output, hours }: Wish): number {
  if (start !== null) return start;
  if (output.kind !== 'mqtt') return DEFAULT_START;
  return Math.round(Date.now() - hours * HOUR_MS * (1 - 1 / Math.max(1, output.speed)));
}

async function produce(wish: Wish, plant: Plant): Promise<number> {
  const { output } = wish;
  if (output.kind === 'mqtt') return publishLive(plant, output, wish.hours);
  if (output.kind === 'capture') {
    const tally = await writeCapture(output.path, streamMessages(plant));
    console.log(
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
): Promise<number> {
  const refusal = await probeEndpoint(host, port);
  if (refusal !== null) {
    console.error(`simulate: nobody listens on ${host}:${port} (${refusal}); start the gateway first`);
    return 1;
  }
  const stop = new AbortController();
  process.once('SIGINT', () => stop.abort());
  process.once('SIGTERM', () => stop.abort());
  const publisher = new Publisher(`mqtt://${host.includes(':') ? `[${host}]` : host}:${port}`);
  const began = performance.now();
  console.log(
    `${countSensors(plant)} sensors on ${plant.lives.size} motors, ${hours} h at ${speed} times their pace, to ${host}:${port}`,
  );
  await publishPaced(publisher, streamMessages(plant), { from: plant.span.from, speed }, stop.signal);
  await publisher.finish(ACKNOWLEDGE_PATIENCE_MS);
  const { published, acknowledged, failed, connections } = publisher.tally;
  const seconds = ((performance.now() - began) / 1_000).toFixed(1);
  console.log(
    `${published} messages published, ${acknowledged} acknowledged, ${failed} failed, ${connections} connections, ${seconds} s`,
  );
  if (acknowledged === published) return 0;
  console.error(
    `simulate: ${published - acknowledged} messages were not acknowledged (${publisher.lastError ?? 'no error'})`,
  );
  return 1;
}

try {
  process.exitCode = await run(process.argv.slice(2));
} catch (error) {
  if (!(error instanceof UsageError || error instanceof ScenarioFileError || error instanceof RangeError))
    throw error;
  console.error(error instanceof UsageError ? `simulate: ${error.message}. See --help.` : error.message);
  process.exitCode = 2;
}
