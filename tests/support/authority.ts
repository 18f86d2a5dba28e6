/** A certificate authority of a site's own, and a certificate of it for this machine, made with openssl. */
import { execFileSync } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';

export interface Authority {
  /** PEM files: of the authority, of the server, and the server's key */
  readonly ca: string;
  readonly cert: string;
  readonly key: string;
}

export function makeAuthority(folder: string): Authority {
  mkdirSync(folder, { recursive: true });
  const file = (name: string): string => join(folder, name);
  const run = (...args: string[]): void => void execFileSync('openssl', args, { stdio: 'ignore' });
  const curve = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes'];
  const [caKey, ca, key, cert] = ['ca-key.pem', 'ca.pem', 'key.pem', 'cert.pem'].map(file) as [
    string,
    string,
    string,
    string,
  ];
  run('req', '-x509', ...curve, '-keyout', caKey, '-out', ca, '-days', '2', '-subj', '/CN=site authority');
  run('req', ...curve, '-keyout', key, '-out', file('request.pem'), '-subj', '/CN=broker');
  writeFileSync(file('names.cnf'), 'subjectAltName=IP:127.0.0.1,DNS:localhost\n');
  const signed = ['-CA', ca, '-CAkey', caKey, '-CAcreateserial', '-extfile', file('names.cnf')];
  run('x509', '-req', '-in', file('request.pem'), ...signed, '-out', cert, '-days', '2');
  return { ca, cert, key };
}
