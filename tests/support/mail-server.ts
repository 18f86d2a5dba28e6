/**
 * A real SMTP server as a process of its own, so that a test can kill it. What it takes goes into a file, a JSON line a
 * message; how it behaves comes as one JSON argument. Prints `listening PORT`.
 */
import { appendFileSync, readFileSync } from 'node:fs';
import { SMTPServer, type SMTPServerOptions } from 'smtp-server';

export interface MailServerWishes {
  /** 0: any */
  readonly port: number;
  /** file for what is taken */
  readonly out: string;
  /** recipients refused for good, and for now */
  readonly refuse?: readonly string[];
  readonly later?: readonly string[];
  /** before the answer to a message */
  readonly slowMs?: number;
  /** it never greets */
  readonly isMute?: boolean;
  /** it takes no message without this login; null or absent: from anybody */
  readonly login?: { readonly user: string; readonly password: string } | null;
  /** files in PEM; absent: no TLS */
  readonly tls?: { readonly key: string; readonly cert: string; readonly isFirst: boolean };
}

export interface TakenMail {
  readonly to: string[];
  readonly isSecure: boolean;
  readonly user: string | null;
  readonly raw: string;
}

function optionsOf(wishes: MailServerWishes): SMTPServerOptions {
  const { refuse = [], later = [], slowMs = 0, login = null, tls } = wishes;
  const answer = (code: number, text: string): Error =>
    Object.assign(new Error(text), { responseCode: code });
  return {
    logger: false,
    secure: tls?.isFirst ?? false,
    ...(tls === undefined ? {} : { key: readFileSync(tls.key), cert: readFileSync(tls.cert) }),
    disabledCommands: [...(tls === undefined ? ['STARTTLS'] : []), ...(login === null ? ['AUTH'] : [])],
    authOptional: login === null,
    onConnect: (_session, done) => {
      if (wishes.isMute !== true) done();
    },
    onAuth: ({ username, password }, _session, done) => {
      const isRight = username === login?.user && password === login?.password;
      if (isRight) done(null, { user: username });
      else done(answer(535, '5.7.8 authentication failed'));
    },
    onRcptTo: ({ address }, _session, done) => {
      if (refuse.includes(address)) done(answer(550, '5.1.1 no such user here'));
      else if (later.includes(address)) done(answer(451, '4.7.1 greylisted, come again'));
      else done();
    },
    onData: (stream, session, done) => {
      const chunks: Buffer[] = [];
      stream.on('data', (chunk: Buffer) => chunks.push(chunk));
      stream.on('end', () => {
        const taken: TakenMail = {
          to: session.envelope.rcptTo.map(({ address }) => address),
          isSecure: session.secure,
          user: typeof session.user === 'string' ? session.user : null,
          raw: Buffer.concat(chunks).toString('utf8'),
        };
        appendFileSync(wishes.out, `${JSON.stringify(taken)}\n`);
        setTimeout(done, slowMs);
      });
    },
  };
}

const argument = process.argv[2];
if (argument !== undefined && process.argv[1]?.endsWith('mail-server.js') === true) {
  const wishes = JSON.parse(argument) as MailServerWishes;
  const server = new SMTPServer(optionsOf(wishes));
  server.on('error', () => undefined);
  server.listen(wishes.port, '127.0.0.1', () => {
    const address = server.server.address();
    process.stdout.write(`listening ${typeof address === 'object' ? address?.port : ''}\n`);
  });
}
