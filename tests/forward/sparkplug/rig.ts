/** A sink `sparkplug` on a broker of the test's own, and a host's side of it. */
import type { MqttClient } from 'mqtt';
import { openSparkplugSink, type SparkplugSettings } from '../../../src/forward/sparkplug/sparkplug-sink.js';
import type { Sink, SinkMemory, SinkParts } from '../../../src/forward/sink.js';
import { DataType, encodePayload } from '../../../src/forward/sparkplug/payload.js';
import { makeParts } from '../made-records.js';
import { MOTORS, SENSORS } from '../sample-records.js';
import { decodePayload, type DecodedPayload } from './decode.js';

export const GROUP = 'tarn-hollow';
export const NODE = 'pump-house';
export const HOST = 'control-room';

export function within(ms: number): AbortSignal {
  return AbortSignal.timeout(ms);
}

export function makeMemory(): SinkMemory & { json: string | null } {
  const memory = {
    json: null as string | null,
    read: () => memory.json,
    write: (json: string) => void (memory.json = json),
  };
  return memory;
}

export function makeSink(
  url: string,
  change: Partial<SparkplugSettings> = {},
  memory: SinkMemory = makeMemory(),
  some: Partial<Pick<SinkParts, 'now' | 'steady' | 'askAgain'>> = {},
): Sink {
  const settings: SparkplugSettings = {
    ...{ kind: 'sparkplug', url, group: GROUP, node: NODE, rebirthMs: 10_000, doubtMs: 120_000 },
    ...{ verifyServer: true, deadlineMs: 5_000, ...change },
  };
  const place = { name: 'control', site: GROUP, sensors: SENSORS, motors: MOTORS };
  return openSparkplugSink(settings, makeParts({ ...place, memory, ...some }));
}

export function topic(what: string, device?: string): string {
  return ['spBv1.0', GROUP, what, NODE, ...(device === undefined ? [] : [device])].join('/');
}

/** As a host asks for a birth. */
export async function askRebirth(client: MqttClient, value = true): Promise<void> {
  const metric = {
    ...{
      name: 'Node Control/Rebirth',
      alias: null,
      timestamp: Date.now(),
      type: DataType.boolean,
      tellsType: true,
    },
    ...{ isHistorical: false, value, quality: null, isUncertain: null },
  } as const;
  await client.publishAsync(
    topic('NCMD'),
    encodePayload({ timestamp: Date.now(), seq: 0, metrics: [metric] }),
  );
}

/** What a host knows: names by alias from the births, and with them each value of the data. */
export class Host {
  readonly names = new Map<number, string>();
  readonly values: {
    readonly device: string;
    readonly name: string;
    readonly at: number;
    readonly value: unknown;
    readonly isHistorical: boolean;
    readonly isUncertain: boolean;
  }[] = [];

  hear(on: string, bytes: Buffer): DecodedPayload {
    const payload = decodePayload(bytes);
    const [, , what = '', , device = ''] = on.split('/');
    for (const metric of payload.metrics) {
      if (what.endsWith('BIRTH') && metric.alias !== null)
        this.names.set(metric.alias, `${device}:${metric.name}`);
      if (!what.endsWith('DATA')) continue;
      const full = this.names.get(metric.alias ?? -1);
      if (full === undefined) throw new Error(`alias ${metric.alias} was in no birth`);
      const [of = '', ...rest] = full.split(':');
      if (of !== device) throw new Error(`alias ${metric.alias} is of ${of}, not of ${device}`);
      this.values.push({
        ...{ device, name: rest.join(':'), at: metric.timestamp!, value: metric.value },
        isHistorical: metric.isHistorical,
        isUncertain: metric.properties['uncertain']?.value === true,
      });
    }
    return payload;
  }
}
