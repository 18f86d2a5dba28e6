/** The sink `mqtt`: another broker, QoS 1. Its PUBACK is the delivery. */
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { PublishWindow, type Publication } from './publish-window.js';
import { splitSensor, toForwarded } from './record-body.js';
import type { Sent, Sink, SinkParts, SinkRecord } from './sink.js';

export interface MqttSettings {
  readonly kind: 'mqtt';
  readonly url: string;
  readonly clientId?: string | undefined;
  readonly topic?: string | undefined;
  readonly user?: string | undefined;
  readonly verifyServer: boolean;
  readonly inFlightMax: number;
  readonly deadlineMs: number;
}

const RECORDS_MOST = 2_000;
/** The window goes on from one batch into the next, so that the broker has work while the first is written down. */
const CALLS_AT_ONCE = 2;
const KEEPALIVE_S = 15;

export function openMqttSink(settings: MqttSettings, parts: SinkParts): Sink {
  let open: { readonly client: MqttClient; readonly window: PublishWindow } | null = null;
  const drop = async (): Promise<void> => {
    const dropped = open;
    open = null;
    dropped?.window.end('the connection was given up');
    // forced: the socket goes at once, whatever is in flight
    await dropped?.client.endAsync(true).catch(() => undefined);
  };
  return {
    recordsMost: RECORDS_MOST,
    callsAtOnce: CALLS_AT_ONCE,
    open: async (signal) => {
      await drop();
      const client = await connect(settings, parts, signal);
      client.on('error', (error) => parts.log('warn', { err: error.message }, 'the broker is gone'));
      const write = (record: SinkRecord): Publication => ({
        topic: topicOf(record, settings, parts),
        payload: JSON.stringify(toForwarded(record, parts)),
      });
      open = { client, window: new PublishWindow(client, settings.inFlightMax, write) };
    },
    send: async (records, signal) => {
      if (open === null || signal.aborted) return later('there is no connection to the broker');
      const { client, window } = open;
      const sent = await window.publish(records, signal);
      if (signal.aborted && open?.client === client) await drop();
      return sent;
    },
    close: drop,
  };
}

async function connect(
  settings: MqttSettings,
  { site, name, secrets }: SinkParts,
  signal: AbortSignal,
): Promise<MqttClient> {
  const options: IClientOptions = {
    clientId: settings.clientId ?? `tallypost-${site}-${name}`,
    protocolVersion: 4,
    clean: true,
    keepalive: KEEPALIVE_S,
    // one attempt: when to try again is for the forwarder to say
    reconnectPeriod: 0,
    connectTimeout: settings.deadlineMs,
    rejectUnauthorized: settings.verifyServer,
    resubscribe: false,
  };
  const [password, ca, cert, key] = ['password', 'ca', 'cert', 'key'].map((stem) => secrets.get(stem));
  if (settings.user !== undefined) options.username = settings.user;
  if (password !== undefined) options.password = password;
  if (ca !== undefined) options.ca = ca;
  if (cert !== undefined) options.cert = cert;
  if (key !== undefined) options.key = key;
  return connectAsync(settings.url, options, false).then((client) => {
    if (!signal.aborted) return client;
    client.end(true);
    throw new Error('no connection within the deadline');
  });
}

function later(reason: string): Sent {
  return { outcome: 'later', reason, retryAfterMs: null };
}

/** Source: our choice; below one prefix, so that a broker's rules can allow it with one line. */
export function topicOf(
  { content, subject }: SinkRecord,
  settings: Pick<MqttSettings, 'topic'>,
  { site }: Pick<SinkParts, 'site'>,
): string {
  const root = settings.topic ?? `tallypost/${site}`;
  switch (content.stream) {
    case 'rollups':
    case 'manifests':
      return `${root}/${content.stream}/${splitSensor(subject).join('/')}/${content.row.period}`;
    case 'transients':
      return `${root}/transients/${subject}`;
    case 'alarms':
      return `${root}/alarms/${content.row.motor}/${content.row.alarm}`;
    case 'journal':
      return `${root}/journal`;
  }
}
