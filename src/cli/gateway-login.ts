/** The login with which commands ask a gateway that has users: from the environment, so that it stands on no command line. */
import { readFileSync } from 'node:fs';
import { CommandFailure } from './command.js';

const USER = 'TALLYPOST_USER';
const PASSWORD = 'TALLYPOST_PASSWORD';
const PASSWORD_FILE = 'TALLYPOST_PASSWORD_FILE';

/** What to do when a gateway asks for a login. */
export const LOGIN_HINT = `Set ${USER} and ${PASSWORD}, or ${PASSWORD_FILE}, to a user of http.users with the role for it.`;

/** Headers of a request; none where no login is set. Throws `CommandFailure` for half of one. */
export function loginHeaders(environment: NodeJS.ProcessEnv = process.env): Record<string, string> {
  const user = environment[USER] ?? '';
  if (user === '') return {};
  const text = `${user}:${readPassword(environment)}`;
  return { authorization: `Basic ${Buffer.from(text, 'utf8').toString('base64')}` };
}

function readPassword(environment: NodeJS.ProcessEnv): string {
  const given = environment[PASSWORD] ?? '';
  if (given !== '') return given;
  const file = environment[PASSWORD_FILE] ?? '';
  if (file === '') throw new CommandFailure(`${USER} is set, but no password.`, LOGIN_HINT);
  try {
    return readFileSync(file, 'utf8').replace(/\r?\n$/, '');
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    throw new CommandFailure(`The file of ${PASSWORD_FILE} cannot be read (${reason}).`, LOGIN_HINT);
  }
}
