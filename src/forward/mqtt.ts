/** The sink `mqtt`: another broker, QoS 1. Its PUBACK is the delivery. */
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
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

const RECORDS_MOST = 1_000;
const KEEPALIVE_S = 15;

export function openMqttSink(settings: MqttSettings, parts: SinkParts): Sink {
  let client: MqttClient | null = null;
  const drop = async (): Promise<void> => {
    const dropped = client;
    client = null;
    // forced: the socket goes at once, whatever is in flight
    await dropped?.endAsync(true).catch(() => undefined);
  };
  return {
    recordsMost: RECORDS_MOST,
    open: async (signal) => {
      await drop();
      client = await connect(settings, parts, signal);
      client.on('error', (error) => parts.log('warn', { err: error.message }, 'the broker is gone'));
    },
    send: async (records, signal) => {
      if (client === null || signal.aborted) return later('there is no connection to the broker');
      const sent = await publishAll(client, records, settings, parts, signal);
      if (signal.aborted) await drop();
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

/** At most `inFlightMax` wait for their PUBACK at a time. Resolves always. */
function publishAll(
  client: MqttClient,
  records: readonly SinkRecord[],
  settings: MqttSettings,
  parts: SinkParts,
  signal: AbortSignal,
): Promise<Sent> {
  return new Promise((resolve) => {
    let next = 0;
    let waiting = 0;
    const finish = (sent: Sent): void => {
      client.off('close', onClose);
      signal.removeEventListener('abort', onAbort);
      next = records.length;
      resolve(sent);
    };
    const onClose = (): void =>
      finish({
        ...later('the broker closed the connection'),
        ...(waiting > 0 && !signal.aborted ? { isCut: true } : {}),
      });
    const onAbort = (): void => finish(later('no PUBACK within the deadline'));
    client.once('close', onClose);
    signal.addEventListener('abort', onAbort);
    const fill = (): void => {
      while (next < records.length && waiting < settings.inFlightMax) {
        const record = records[next++]!;
        waiting += 1;
        const topic = topicOf(record, settings, parts);
        client.publish(topic, JSON.stringify(toForwarded(record, parts)), { qos: 1 }, (error) => {
          waiting -= 1;
          if (error) finish(later(error.message));
          else if (next >= records.length && waiting === 0) finish({ outcome: 'taken' });
          else fill();
        });
      }
    };
    if (!client.connected) onClose();
    else if (records.length === 0) finish({ outcome: 'taken' });
    else fill();
  });
}

function later(reason: string): Extract<Sent, { outcome: 'later' }> {
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
