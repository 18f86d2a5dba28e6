/** What the OPC UA server is opened with: security, logins and limits. */
import { timingSafeEqual, createHash } from 'node:crypto';
import { hostname } from 'node:os';
import type { OPCUACertificateManager } from 'node-opcua-certificate-manager';
import type { OPCUAServerOptions } from 'node-opcua-server';
import type { OpcuaParts } from './opcua-package.js';
import type { OpcuaSettings } from './opcua-settings.js';

const SUBSCRIPTIONS_PER_SESSION = 10;
const MONITORED_ITEMS_MAX = 100_000;
const NODES_PER_CALL = 1_000;
/** A new login after a wrong one waits so long: guessing is slow. */
const WRONG_LOGIN_MS = 1_000;

export function buildOptions(
  parts: OpcuaParts,
  settings: OpcuaSettings,
  stores: { readonly clients: OPCUACertificateManager; readonly users: OPCUACertificateManager },
): OPCUAServerOptions {
  const { MessageSecurityMode: modes } = parts.types;
  const { SecurityPolicy: policies } = parts.channel;
  const { host, port, security, anonymous, sessionsMax, idleMs, plant, version } = settings;
  const isOpen = security.includes('none');
  const isSecured = security.some((mode) => mode !== 'none');
  const mode = { none: modes.None, sign: modes.Sign, 'sign-encrypt': modes.SignAndEncrypt };
  return {
    ...{ host, port, allowAnonymous: anonymous, disableDiscovery: true },
    securityModes: security.map((one) => mode[one]),
    securityPolicies: [
      ...(isOpen ? [policies.None] : []),
      ...(isSecured
        ? [policies.Basic256Sha256, policies.Aes128_Sha256_RsaOaep, policies.Aes256_Sha256_RsaPss]
        : []),
    ],
    ...{ serverCertificateManager: stores.clients, userCertificateManager: stores.users },
    ...{ maxConnectionsPerEndpoint: 2 * sessionsMax, skipOwnNamespace: false },
    userManager: { isValidUserAsync: checkLogin(settings) },
    serverInfo: {
      applicationUri: `urn:${hostname()}:tallypost:${plant.site}`,
      productUri: 'urn:tallypost',
      applicationName: { text: `Tallypost ${plant.site}` },
    },
    buildInfo: { productName: 'Tallypost', softwareVersion: version, manufacturerName: 'Tallypost' },
    serverCapabilities: {
      maxSessions: sessionsMax,
      maxSubscriptions: SUBSCRIPTIONS_PER_SESSION * sessionsMax,
      maxSubscriptionsPerSession: SUBSCRIPTIONS_PER_SESSION,
      maxMonitoredItems: MONITORED_ITEMS_MAX,
      maxSessionTimeout: idleMs,
      operationLimits: {
        maxNodesPerRead: NODES_PER_CALL,
        maxNodesPerBrowse: NODES_PER_CALL,
        maxNodesPerHistoryReadData: 10,
        maxNodesPerMethodCall: 100,
        maxMonitoredItemsPerCall: NODES_PER_CALL,
        maxNodesPerTranslateBrowsePathsToNodeIds: NODES_PER_CALL,
      },
    } as never,
  };
}

type LoginDone = (error: null, isValid: boolean) => void;

/** Compares in constant time, and a wrong login is told late. */
function checkLogin({ users }: OpcuaSettings) {
  const passwords = new Map(users.map(({ name, password }) => [name, password]));
  return (name: string, password: string, done: LoginDone): void => {
    const known = passwords.get(name);
    const isRight = timingSafeEqual(digest(known ?? ''), digest(password)) && known !== undefined;
    if (isRight) done(null, true);
    else setTimeout(() => done(null, false), WRONG_LOGIN_MS);
  };
}

function digest(text: string): Buffer {
  return createHash('sha256').update(text).digest();
}
