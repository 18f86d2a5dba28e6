/** A mail server process and what it has taken, for tests. */
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { sleep, startChild, type Child } from '../support/child.js';
import type { MailServerWishes, TakenMail } from '../support/mail-server.js';
import { builtFile } from '../support/repository.js';

export interface Letter extends TakenMail {
  readonly subject: string;
  readonly messageId: string;
  readonly text: string;
}

export interface Mailbox {
  readonly port: number;
  /** in the order in which they were taken */
  letters(): Letter[];
  until(count: number, patienceMs?: number): Promise<Letter[]>;
  kill(): Promise<void>;
}

export async function openMailbox(wishes: Partial<MailServerWishes> = {}): Promise<Mailbox> {
  const out = wishes.out ?? join(mkdtempSync(join(tmpdir(), 'tallypost-mail-')), 'taken.ndjson');
  const full: MailServerWishes = { port: 0, ...wishes, out };
  const child = startChild(process.execPath, [
    builtFile('tests/support/mail-server.js'),
    JSON.stringify(full),
  ]);
  const port = await readPort(child);
  const letters = (): Letter[] => (existsSync(out) ? readLetters(readFileSync(out, 'utf8')) : []);
  return {
    ...{ port, letters },
    until: async (count, patienceMs = 20_000) => {
      const end = Date.now() + patienceMs;
      while (letters().length < count) {
        if (Date.now() > end)
          throw new Error(`${letters().length} of ${count} letters after ${patienceMs} ms`);
        await sleep(20);
      }
      return letters();
    },
    kill: async () => {
      child.process.kill('SIGKILL');
      await child.ended;
    },
  };
}

async function readPort(child: Child): Promise<number> {
  for (let tries = 0; tries < 500 && child.isAlive(); tries++) {
    const port = /listening (\d+)/.exec(child.said())?.[1];
    if (port !== undefined) return Number(port);
    await sleep(20);
  }
  throw new Error(`the mail server did not start:\n${child.said()}`);
}

function readLetters(text: string): Letter[] {
  const lines = text.split('\n').filter((line) => line !== '');
  return lines.map((line) => {
    const mail = JSON.parse(line) as TakenMail;
    const end = mail.raw.indexOf('\r\n\r\n');
    const head = mail.raw.slice(0, end).replaceAll(/\r\n[ \t]+/g, ' ');
    const header = (name: string): string => new RegExp(`^${name}: (.*)$`, 'im').exec(head)?.[1] ?? '';
    const body = mail.raw.slice(end + 4);
    const isQuoted = header('Content-Transfer-Encoding') === 'quoted-printable';
    const unquoted = (isQuoted ? readQuoted(body) : body).replaceAll('\r\n', '\n');
    return { ...mail, subject: header('Subject'), messageId: header('Message-ID'), text: unquoted };
  });
}

/** Source: RFC 2045, section 6.7. */
function readQuoted(text: string): string {
  const bytes = text
    .replaceAll('=\r\n', '')
    .replaceAll(/=([0-9A-F]{2})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));
  return Buffer.from(bytes, 'latin1').toString('utf8');
}

/** A certificate of one's own for 127.0.0.1. */
export function makeCertificate(folder: string): { key: string; cert: string } {
  const [key, cert] = [join(folder, 'key.pem'), join(folder, 'cert.pem')];
  const names = ['-subj', '/CN=127.0.0.1', '-addext', 'subjectAltName=IP:127.0.0.1'];
  const curve = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes'];
  execFileSync('openssl', ['req', '-x509', ...curve, '-keyout', key, '-out', cert, '-days', '2', ...names], {
    stdio: 'ignore',
  });
  return { key, cert };
}
