/** The second part: the gateway runs, the station lives, and the demo watches topics, page and alarm from outside. */
import { connectAsync } from 'mqtt';
import type { GatewayProcess } from './program.js';
import type { Station } from './station.js';
import { say, sayHeading, sayTable, tellNumber, tellSpan } from './voice.js';

const TOLD_EVERY_S = 10;
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

interface Heard {
  rates: number;
  last: { readonly topic: string; readonly body: Rate } | null;
}

/** Lets the station live for `seconds` and tells what the gateway makes of it. */
export async function followGateway(
  station: Station,
  gateway: GatewayProcess,
  seconds: number,
): Promise<void> {
  sayHeading('The gateway starts on these data, and the station goes on living');
  say(
    `MQTT on ${gateway.mqtt}, page on ${gateway.http}/. It takes up where the records end: alarms keep their state, ` +
      'nothing is annunciated anew.',
  );
  const heard: Heard = { rates: 0, last: null };
  const listener = await connectAsync(gateway.mqtt, { clientId: 'demo-listener' });
  listener.on('message', (topic, payload, { retain }) => {
    if (retain) return;
    heard.rates += 1;
    heard.last = { topic, body: JSON.parse(payload.toString()) as Rate };
  });
  await listener.subscribeAsync(`${station.site}/out/+/+/rate`, { qos: 1 });
  await station.startPublishing(gateway.mqtt);
  for (let passed = 0; passed < seconds; passed += TOLD_EVERY_S) {
    await wait(TOLD_EVERY_S);
    tellArrivals(station, heard);
    if (passed + TOLD_EVERY_S === ACKNOWLEDGE_AFTER_S) await acknowledgeAlarm(gateway);
  }
  await listener.endAsync();
  await tellRates(gateway);
}

function tellArrivals(station: Station, { rates, last }: Heard): void {
  const { published, acknowledged } = station.tally();
  sayHeading(
    `Live: ${published} messages sent, ${acknowledged} acknowledged, each after its commit was synced to disk`,
  );
  if (last === null) return;
  const place = last.topic.split('/').slice(2, 4).join('/');
  say(
    `${rates} rates heard on ${station.site}/out/…; the last: ${place} ${tellRate(last.body)} a minute (${tellLimits(last.body)})`,
  );
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
      tellRate(rate),
      tellLimits(rate),
      rate === null ? '-' : tellSpan(rate.exposure_ms),
      rate === null ? '-' : rate.quality,
    ]),
  );
  sayTable(['sensor', 'run state', 'a minute', '95 % limits', 'counted for', 'quality'], rows);
  say(
    'A motor that stands keeps the rate of its last ten minutes of running: while it stands nothing is learnt, which is ' +
      'not the same as zero.',
  );
}

function tellRate(rate: Rate | null): string {
  return rate === null || rate.rate_per_min === null ? 'no rate' : tellNumber(rate.rate_per_min);
}

function tellLimits(rate: Rate | null): string {
  if (rate === null || rate.lower_per_min === null || rate.upper_per_min === null) return '-';
  return `${tellNumber(rate.lower_per_min)} to ${tellNumber(rate.upper_per_min)}`;
}
