/** HOST:PORT to listen on, and whether it stays on this machine. */
import * as z from 'zod';

export interface Endpoint {
  /** IPv6 without its brackets */
  readonly host: string;
  /** 0: any free port */
  readonly port: number;
}

const EXPECTED = 'HOST:PORT, such as 127.0.0.1:1883 or [::1]:1883';

/** Null when the text is no HOST:PORT. IPv6 hosts stand in brackets. */
export function parseEndpoint(text: string): Endpoint | null {
  const match = /^(?:\[([0-9a-fA-F:.]+)\]|([A-Za-z0-9.-]+)):(\d{1,5})$/.exec(text);
  const host = match?.[1] ?? match?.[2];
  const port = Number(match?.[3]);
  return host === undefined || port > 65_535 ? null : { host, port };
}

/** For text that the schema has let through; anything else is our mistake. */
export function readEndpoint(text: string): Endpoint {
  const endpoint = parseEndpoint(text);
  if (endpoint === null) throw new Error(`not HOST:PORT: ${text}`);
  return endpoint;
}

export function formatEndpoint(endpoint: Endpoint): string {
  const host = endpoint.host.includes(':') ? `[${endpoint.host}]` : endpoint.host;
  return `${host}:${endpoint.port}`;
}

/** True when only this machine can connect: 127.0.0.0/8, ::1 or localhost. */
export function isLoopback(endpoint: Endpoint): boolean {
  const host = endpoint.host.toLowerCase();
  return host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
}

export function endpointText(fallback: string, description: string) {
  return z
    .string({ error: EXPECTED })
    .refine((text) => parseEndpoint(text) !== null, { error: EXPECTED })
    .meta({ description })
    .default(fallback);
}
