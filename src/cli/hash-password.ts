/** `tallypost hash-password`: the line that may stand in a password file of `http.users` instead of the password. */
import { hashPassword } from '../api/password-hash.js';
import { type Command, CommandFailure, Exit } from './command.js';

const LENGTH_MIN = 8;
const BYTES_MOST = 4_096;

export const hashPasswordCommand: Command = {
  name: 'hash-password',
  summary: 'hash a password for http.users',
  about:
    'Reads a password from standard input, one line, and writes its hash. Put that line into the file that passwordFile\n' +
    'of a user of http.users names: then nobody who reads the file knows the password.',
  options: {},
  positionals: [],
  examples: ['tallypost hash-password < password.txt > config/operator.secret'],
  async run(_args, terminal) {
    const password = (await readInput()).replace(/\r?\n$/, '');
    if (password.length < LENGTH_MIN || /[\r\n]/.test(password))
      throw new CommandFailure(
        `A password of at least ${LENGTH_MIN} characters on one line is needed.`,
        'Give it on standard input.',
      );
    await terminal.out(`${await hashPassword(password)}\n`);
    return Exit.ok;
  },
};

async function readInput(): Promise<string> {
  let text = '';
  for await (const chunk of process.stdin) {
    text += String(chunk);
    if (text.length > BYTES_MOST) break;
  }
  return text;
}
