/**
 * The package of the OPC UA server, which is optional: whether it is there, what to install when it is not, and its parts.
 * The parts are taken from beside the package itself, so that they are of the same version wherever npm put them.
 */
import { createRequire } from 'node:module';

export const OPCUA_PACKAGE = 'node-opcua-server';
/** As in `peerDependencies`; a test holds the two together. */
export const OPCUA_VERSION = '~2.182.0';

/** Finds a package by its name; throws when it is not there. */
export type Resolve = (name: string) => string;
const resolveHere: Resolve = createRequire(import.meta.url).resolve;

/** A sentence that says what to install; null: it is there. */
export function findMissingPackage(resolve: Resolve = resolveHere): string | null {
  try {
    resolve(OPCUA_PACKAGE);
    return null;
  } catch {
    return `OPC UA is configured and its package is not installed: run "npm install --no-save ${OPCUA_PACKAGE}@${OPCUA_VERSION}" in the folder of the program, or take the section opcua out of the configuration`;
  }
}

export interface OpcuaParts {
  readonly server: typeof import('node-opcua-server');
  readonly certificates: typeof import('node-opcua-certificate-manager');
  readonly access: typeof import('node-opcua-data-access');
  readonly common: typeof import('node-opcua-data-model');
  readonly value: typeof import('node-opcua-data-value');
  readonly channel: typeof import('node-opcua-secure-channel');
  readonly nodeId: typeof import('node-opcua-nodeid');
  readonly status: typeof import('node-opcua-status-code');
  readonly types: typeof import('node-opcua-types');
  readonly variant: typeof import('node-opcua-variant');
}

/** Throws with a sentence that says what to install. */
export function loadOpcuaParts(resolve: Resolve = resolveHere): OpcuaParts {
  const missing = findMissingPackage(resolve);
  if (missing !== null) throw new Error(missing);
  const load = createRequire(resolve(OPCUA_PACKAGE));
  return {
    server: load(OPCUA_PACKAGE) as OpcuaParts['server'],
    certificates: load('node-opcua-certificate-manager') as OpcuaParts['certificates'],
    access: load('node-opcua-data-access') as OpcuaParts['access'],
    common: load('node-opcua-data-model') as OpcuaParts['common'],
    value: load('node-opcua-data-value') as OpcuaParts['value'],
    channel: load('node-opcua-secure-channel') as OpcuaParts['channel'],
    nodeId: load('node-opcua-nodeid') as OpcuaParts['nodeId'],
    status: load('node-opcua-status-code') as OpcuaParts['status'],
    types: load('node-opcua-types') as OpcuaParts['types'],
    variant: load('node-opcua-variant') as OpcuaParts['variant'],
  };
}
