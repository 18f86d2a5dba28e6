/** The second part: the gateway runs, the station lives, and the demo watches topics, page and alarm from outside. */
import { connectAsync, type MqttClient } from 'mqtt';
import type { GatewayProcess } from './program.js';
import type { Station } from './station.js';
import { say, sayHeading, sayTable, tellNumber, tellSpan } from './voice.js';

const ACKNOWLEDGE_AFTER_S = 20;

interface Rate {
  readonly rate_per_min: number | null;
  readonly lower_per_min: number | null;
  readonly upper_per_min: number | null;
  readonly exposure_ms: number;
  readonly quality: string;
}

interface Motor {
  readonly motor: string;
  readonly run_state: string;
  readonly sensors: readonly { readonly sensor: string; readonly rate: Rate | null }[];
}

interface Alarm {
  readonly id: string;
  readonly state: string;
  readonly action: string;
  readonly evidence: { readonly says: string } | null;
}

async function getJson<T>(gateway: GatewayProcess, path: string): Promise<T> {
  const response = await fetch(gateway.http + path);
  if (!response.ok) throw new Error(`${path} answered ${response.status}: ${await response.text()}`);
  return (await response.json()) as T;
}

function wait(seconds: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, seconds * 1000));
}

/** Lets the station live for `seconds` and tells what the gateway makes of it. */
export async function followGateway(
  station: Station,
  gateway: GatewayProcess,
  seconds: number,
): Promise<void> {
  sayHeading('The gateway starts on these data, and the station goes on living');
  say(
    `MQTT on ${gateway.mqtt}, page on ${gateway.http}/. It takes up where the records end: alarms keep their state, nothing is annunciated anew.`,
  );
  const heard = { rates: 0, last: '' };
  const listener = await connectAsync(gateway.mqtt, { clientId: 'demo-listener' });
  listener.on('message', (topic, payload) => {
    if (topic.endsWith('/rate')) {
      heard.rates += 1;
      heard.last = `${topic} ${payload.toString()}`;
    }
  });
  await listener.subscribeAsync(`${station.site}/out/#`, { qos: 1 });
  await station.startPublishing(gateway.mqtt);
  await wait(ACKNOWLEDGE_AFTER_S);
  await acknowledgeAlarm(gateway);
  await wait(seconds - ACKNOWLEDGE_AFTER_S);
  await tellRates(gateway);
  await tellTopics(listener, heard);
}

async function acknowledgeAlarm(gateway: GatewayProcess): Promise<void> {
  const { alarms } = await getJson<{ alarms: Alarm[] }>(gateway, '/api/v1/alarms?state=open');
  const alarm = alarms.find((each) => each.state === 'unacknowledged') ?? alarms[0];
  if (alarm === undefined) {
    sayHeading('No alarm stands any more');
    return;
  }
  sayHeading(`The alarm ${alarm.id} still stands: ${alarm.state}`);
  say(`Evidence: ${alarm.evidence?.says ?? 'none'}`);
  say(`What the operator is asked to do: ${alarm.action}`);
  const response = await fetch(`${gateway.http}/api/v1/alarms/${alarm.id}/acknowledge`, {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ who: 'demo operator', note: 'shaft voltage measurement ordered' }),
  });
  const answer = (await response.json()) as { state?: string; detail?: string };
  say(
    response.ok
      ? `The demo operator acknowledges it; its state is now "${answer.state ?? ''}". The condition itself stands until the rate returns.`
      : `It could not be acknowledged: ${answer.detail ?? response.status}`,
  );
}

async function tellRates(gateway: GatewayProcess): Promise<void> {
  const { motors } = await getJson<{ motors: Motor[] }>(gateway, '/api/v1/motors');
  sayHeading('Rates now, over the last ten minutes of running, with the limits that the counts allow');
  const rows = motors.flatMap((motor) =>
    motor.sensors.map(({ sensor, rate }) => [
      sensor,
      motor.run_state,
      rate?.rate_per_min == null ? 'no rate' : tellNumber(rate.rate_per_min),
      rate?.lower_per_min == null || rate.upper_per_min === null
        ? '-'
        : `${tellNumber(rate.lower_per_min)} to ${tellNumber(rate.upper_per_min)}`,
      rate === null ? '-' : tellSpan(rate.exposure_ms),
      rate === null ? '-' : rate.quality,
    ]),
  );
  sayTable(['sensor', 'run state', 'a minute', '95 % limits', 'counted for', 'quality'], rows);
  say('A motor that stands has no new rate: no running time is "not known", not zero.');
}

async function tellTopics(listener: MqttClient, heard: { rates: number; last: string }): Promise<void> {
  sayHeading('A subscriber heard the same over MQTT');
  say(`${heard.rates} rate messages; the last one: ${heard.last === '' ? 'none' : heard.last.slice(0, 300)}`);
  await listener.endAsync();
}
