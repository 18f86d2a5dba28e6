/** What a configuration opens to others, and whom it sends to, in lines: who may come in, and where records go. */
import type { Config } from './config.js';
import { formatEndpoint } from './endpoint.js';
import { formatDuration, formatNumber } from './figures.js';

const MIB = 1_048_576;

/** `1 motor`, `2 motors`. */
export function countOf(count: number, noun: string): string {
  return `${formatNumber(count)} ${noun}${count === 1 ? '' : 's'}`;
}

/** MQTT and HTTP, and Modbus TCP and OPC UA where they are configured. */
export function describeOpenings({ mqtt, http, modbus, opcua }: Config): string[] {
  const tls = http.tls === null ? '' : ' with TLS';
  const wall = http.kiosk ? '; rates and alarms without a login' : '';
  const lines = [
    `MQTT on ${formatEndpoint(mqtt.listen)}, ${describeLogins(mqtt.users, 'publish and subscribe')}`,
    `HTTP on ${formatEndpoint(http.listen)}${tls}, ${describeLogins(http.users, 'read and act')}${wall}`,
  ];
  if (modbus !== null) {
    const { listen, unitId, wordOrder, staleMs } = modbus;
    const stale = staleMs === null ? '' : `, unknown after ${formatDuration(staleMs)}`;
    const how = `read-only, no logins, unit ${unitId}, word order ${wordOrder}${stale}`;
    lines.push(`Modbus TCP on ${formatEndpoint(listen)}, ${how}`);
  }
  if (opcua !== null) {
    const users = opcua.users.map(({ name, role }) => `${name} (${role})`);
    const who = [...users, ...(opcua.anonymous ? ['anyone (reads)'] : [])].join(', ');
    lines.push(`OPC UA on ${formatEndpoint(opcua.listen)}, ${opcua.security.join(', ')}: ${who}`);
  }
  return lines;
}

function describeLogins(
  users: readonly { readonly name: string; readonly role: string }[] | null,
  whatAnyoneMay: string,
): string {
  if (users === null) return `no logins: anyone on this machine may ${whatAnyoneMay}`;
  return `${countOf(users.length, 'login')}: ${users.map(({ name, role }) => `${name} (${role})`).join(', ')}`;
}

/** Nothing where no sink is configured. */
export function describeSinks({ sinks }: Config): string[] {
  if (sinks.length === 0) return [];
  const lines = sinks.map((sink) => {
    const { name, kind, streams, periods, ageDaysMax, backlogBytesMax } = sink;
    const rollups = `rollups of ${periods.join(', ')}`;
    const what = streams.map((stream) => (stream === 'rollups' ? rollups : stream)).join('; ');
    const kept = `given up after ${formatNumber(ageDaysMax)} d or ${formatNumber(Math.round(backlogBytesMax / MIB))} MiB of backlog`;
    return `  ${name}: ${kind}, ${'folder' in sink ? sink.folder : sink.url}; ${what}; ${kept}`;
  });
  return ['Forwards to:', ...lines, ''];
}
