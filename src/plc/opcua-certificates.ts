/**
 * Certificates of clients, in the folders that the server looks into: what it does not know it puts under `rejected`, and
 * a person moves it to `trusted`. A running server sees the move by itself.
 */
import { createHash, X509Certificate } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, statSync } from 'node:fs';
import { join } from 'node:path';

export type CertificateState = 'accepted' | 'rejected' | 'own';

export interface ClientCertificate {
  readonly state: CertificateState;
  /** SHA-1 of the certificate, hex: what tools of OPC UA call its thumbprint */
  readonly thumbprint: string;
  readonly subject: string;
  /** URI of the application; '': it names none */
  readonly application: string;
  readonly validFrom: string;
  readonly validTo: string;
  readonly path: string;
}

const FOLDERS = { accepted: 'trusted/certs', rejected: 'rejected', own: 'own/certs' } as const;
const STATES: readonly CertificateState[] = ['own', 'accepted', 'rejected'];
const FILES_MAX = 1_000;
const BYTES_MAX = 65_536;

/** Folder of the store, below the data directory. */
export function certificateFolder(dataDir: string): string {
  return join(dataDir, 'opcua', 'pki');
}

/** The server's own, the accepted, then the rejected ones. What is no certificate is passed over. */
export function listCertificates(dataDir: string): ClientCertificate[] {
  return STATES.flatMap((state) => {
    const folder = join(certificateFolder(dataDir), FOLDERS[state]);
    if (!existsSync(folder)) return [];
    return readdirSync(folder)
      .slice(0, FILES_MAX)
      .sort()
      .flatMap((name) => readCertificate(state, join(folder, name)));
  });
}

function readCertificate(state: CertificateState, path: string): ClientCertificate[] {
  const status = statSync(path);
  if (!status.isFile() || status.size > BYTES_MAX) return [];
  try {
    const { raw, subject, subjectAltName = '', validFrom, validTo } = new X509Certificate(readFileSync(path));
    const thumbprint = createHash('sha1').update(raw).digest('hex');
    const application = /URI:([^,]+)/.exec(subjectAltName)?.[1]?.trim() ?? '';
    return [
      {
        ...{ state, thumbprint, application, validFrom, validTo, path },
        subject: subject.split('\n').join(', '),
      },
    ];
  } catch {
    return [];
  }
}

/** Moves it. Returns where it stands now. */
export function moveCertificate(
  dataDir: string,
  { path, thumbprint }: ClientCertificate,
  to: 'accepted' | 'rejected',
): string {
  const folder = join(certificateFolder(dataDir), FOLDERS[to]);
  mkdirSync(folder, { recursive: true });
  const target = join(folder, `${thumbprint}.pem`);
  renameSync(path, target);
  return target;
}
