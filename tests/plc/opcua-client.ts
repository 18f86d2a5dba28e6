/** A client of OPC UA with a certificate of its own, as an HMI has one. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { OPCUACertificateManager } from 'node-opcua-certificate-manager';
import {
  AttributeIds,
  type ClientSession,
  type DataValue,
  MessageSecurityMode,
  OPCUAClient,
  SecurityPolicy,
  type UserIdentityInfo,
  UserTokenType,
} from 'node-opcua-client';

export interface Hmi {
  readonly session: ClientSession;
  read(id: string): Promise<DataValue>;
  node(id: string): string;
  close(): Promise<void>;
}

export interface HmiWishes {
  readonly port: number;
  /** null: anonymous */
  readonly login?: { readonly user: string; readonly password: string } | null;
  readonly isSecured?: boolean;
  /** folder of its certificate, kept by the caller; absent: one that is thrown away */
  readonly folder?: string;
}

/** Rejects with what the server said. */
export async function connectHmi({ port, login = null, isSecured = false, folder }: HmiWishes): Promise<Hmi> {
  const own = folder ?? mkdtempSync(join(tmpdir(), 'tallypost-hmi-'));
  const clientCertificateManager = new OPCUACertificateManager({
    ...{ rootFolder: own, automaticallyAcceptUnknownCertificate: true, disableFileWatchers: true },
  });
  await clientCertificateManager.initialize();
  const client = OPCUAClient.create({
    ...{ applicationName: 'panel', applicationUri: 'urn:tarn-hollow:panel', clientCertificateManager },
    ...{ connectionStrategy: { maxRetry: 0 }, endpointMustExist: false, requestedSessionTimeout: 60_000 },
    securityMode: isSecured ? MessageSecurityMode.SignAndEncrypt : MessageSecurityMode.None,
    securityPolicy: isSecured ? SecurityPolicy.Basic256Sha256 : SecurityPolicy.None,
  });
  const identity: UserIdentityInfo =
    login === null
      ? { type: UserTokenType.Anonymous }
      : { type: UserTokenType.UserName, userName: login.user, password: login.password };
  const end = async (): Promise<void> => {
    await client.disconnect().catch(() => undefined);
    await clientCertificateManager.dispose();
    if (folder === undefined) rmSync(own, { recursive: true, force: true });
  };
  try {
    await client.connect(`opc.tcp://127.0.0.1:${port}`);
    const session = await client.createSession(identity);
    const index = (await session.readNamespaceArray()).findIndex((uri) => uri.startsWith('urn:tallypost:'));
    const node = (id: string): string => `ns=${index};s=${id}`;
    return {
      ...{ session, node },
      read: (id) => session.read({ nodeId: node(id), attributeId: AttributeIds.Value }),
      close: async () => {
        await session.close().catch(() => undefined);
        await end();
      },
    };
  } catch (error) {
    await end();
    throw error;
  }
}
