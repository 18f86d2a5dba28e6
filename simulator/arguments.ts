/** The command line of the simulator. */
import { parseArgs } from 'node:util';
import { parseRfc3339 } from '../shared/time.js';

export interface Wish {
  readonly scenario: string;
  readonly seed: number;
  readonly hours: number;
  /** null: it follows from the kind of output */
  readonly start: number | null;
  readonly output:
    | { readonly kind: 'mqtt'; readonly host: string; readonly port: number; readonly speed: number }
    | { readonly kind: 'capture'; readonly path: string }
    | { readonly kind: 'none' };
  readonly truth: string | null;
  readonly config: string | null;
}

/** What was typed cannot be done; the message says what to type instead. */
export class UsageError extends Error {}

export const HELP = `Simulates a plant that knows the truth.

npm run simulate -- --scenario FILE --seed N --hours H
                    (--mqtt HOST:PORT [--speed X] | --capture OUT.ndjson.gz)
                    [--truth TRUTH.json] [--config OUT.yaml] [--start TIME]

  --scenario FILE   what the plant is and what goes wrong; config/scenarios/README.md explains the keys
  --seed N          a whole number; the same scenario, seed, hours and start give the same messages
  --hours H         length of event time, fractions allowed, below 1176
  --mqtt HOST:PORT  publish live, one client for each sensor device and each drive reporter, QoS 1
  --speed X         event time runs X times as fast (default 1). It begins in the past so that it ends at now
  --capture OUT     write a capture instead; compressed when the name ends in .gz
  --truth FILE      write what really happened, as JSON
  --config FILE     write the gateway's configuration that fits the scenario
  --start TIME      beginning of event time, RFC 3339 with an offset. Otherwise a capture begins at
                    2026-03-02T06:00:00Z, and a live run so that it ends in time

Example, a day of the demo plant and its truth:
  npm run simulate -- --scenario config/scenarios/tarn-hollow.yaml --seed 7 --hours 24 \\
    --capture day.ndjson.gz --truth day.truth.json --config day.yaml
`;

/** Null: help was asked for. Throws `UsageError`. */
export function readArguments(args: readonly string[]): Wish | null {
  const values = parse(args);
  if (values.help === true) return null;
  const output = readOutput(values);
  const { truth = null, config = null } = values;
  if (output.kind === 'none' && truth === null && config === null) {
    throw new UsageError(
      'say where to: --mqtt HOST:PORT, --capture OUT.ndjson.gz, --truth FILE or --config FILE',
    );
  }
  const onlyConfig = output.kind === 'none' && truth === null;
  return {
    scenario: values.scenario ?? refuse('--scenario FILE is missing'),
    seed: readNumber(
      '--seed',
      values.seed ?? (onlyConfig ? '0' : undefined),
      'a whole number',
      Number.isSafeInteger,
    ),
    hours: readNumber(
      '--hours',
      values.hours ?? (onlyConfig ? '1' : undefined),
      'above 0 and below 1176',
      (h) => h > 0 && h < 1_176,
    ),
    start: values.start === undefined ? null : readStart(values.start),
    output,
    truth,
    config,
  };
}

function parse(args: readonly string[]) {
  try {
    const text = { type: 'string' } as const;
    return parseArgs({
      args: [...args],
      options: {
        scenario: text,
        seed: text,
        hours: text,
        start: text,
        mqtt: text,
        speed: text,
        capture: text,
        truth: text,
        config: text,
        help: { type: 'boolean', short: 'h' },
      },
    }).values;
  } catch (error) {
    return refuse(error instanceof Error ? error.message : String(error));
  }
}

function readOutput(values: {
  mqtt?: string | undefined;
  speed?: string | undefined;
  capture?: string | undefined;
}): Wish['output'] {
  const { mqtt, speed, capture } = values;
  if (mqtt !== undefined && capture !== undefined) refuse('--mqtt and --capture exclude each other');
  if (speed !== undefined && mqtt === undefined) refuse('--speed belongs to --mqtt');
  if (capture !== undefined) return { kind: 'capture', path: capture };
  if (mqtt === undefined) return { kind: 'none' };
  const endpoint = /^(?:\[([^\]]+)\]|([^:]+)):(\d{1,5})$/.exec(mqtt);
  const port = Number(endpoint?.[3]);
  if (endpoint === null || port < 1 || port > 65_535) refuse(`--mqtt: expected HOST:PORT, found "${mqtt}"`);
  const host = endpoint?.[1] ?? endpoint?.[2] ?? '';
  return { kind: 'mqtt', host, port, speed: readNumber('--speed', speed ?? '1', 'above 0', (x) => x > 0) };
}

function readNumber(
  name: string,
  text: string | undefined,
  expected: string,
  fits: (value: number) => boolean,
): number {
  if (text === undefined) return refuse(`${name} is missing: expected a number, ${expected}`);
  const value = text.trim() === '' ? NaN : Number(text);
  if (!Number.isFinite(value) || !fits(value))
    refuse(`${name}: expected a number, ${expected}, found "${text}"`);
  return value;
}

function readStart(text: string): number {
  const at = parseRfc3339(text);
  return (
    at ?? refuse(`--start: expected RFC 3339 with an offset, such as 2026-03-02T06:00:00Z, found "${text}"`)
  );
}

function refuse(message: string): never {
  throw new UsageError(message);
}
