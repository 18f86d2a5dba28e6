/** What the schema cannot see in `opcua`: nobody who may log in, passwords in the clear, modes named twice. */
import type { Config } from './config.js';
import { checkStale } from './check-stale.js';
import { isLoopback } from './endpoint.js';
import type { Report } from './report.js';
import type { FileContent } from './schema.js';

export function checkOpcua(content: FileContent, config: Config, report: Report): void {
  const { opcua } = content;
  if (opcua === undefined || config.opcua === null) return;
  const path = ['opcua'];
  const twice = opcua.security.find((one, index) => opcua.security.indexOf(one) < index);
  if (twice !== undefined) report.error([...path, 'security'], 'every mode once', `${twice} again`);
  if (opcua.users === undefined && !opcua.anonymous) {
    const hint = 'name users, or set anonymous: true for reading without a login';
    report.error(path, 'somebody who may log in', 'neither users nor anonymous', { hint, at: 'key' });
  }
  checkUsers(opcua.users ?? [], report);
  if (opcua.security.includes('none')) checkOpen(opcua, config, report);
  checkStale([...path, 'staleMs'], config.opcua.staleMs, config, report);
}

function checkUsers(users: NonNullable<NonNullable<FileContent['opcua']>['users']>, report: Report): void {
  const seen = new Set<string>();
  users.forEach((user, index) => {
    const path = ['opcua', 'users', index];
    if (seen.has(user.name)) report.error([...path, 'name'], 'every login name once', `"${user.name}" again`);
    seen.add(user.name);
    if (user.name === 'anonymous')
      report.error([...path, 'name'], 'another name: this one is what nobody is called', '"anonymous"');
    const references = [user.passwordFile, user.passwordEnv].filter((reference) => reference !== undefined);
    if (references.length === 1) return;
    const found = references.length === 0 ? 'neither' : 'both';
    report.error(path, 'one of passwordFile and passwordEnv', found, { at: 'key' });
  });
}

/** `none` is for a test bench on this machine, or for a network that protects by other means. */
function checkOpen(opcua: NonNullable<FileContent['opcua']>, config: Config, report: Report): void {
  const index = opcua.security.indexOf('none');
  const where = isLoopback(config.opcua!.listen) ? '' : ' on a network';
  report.warn(['opcua', 'security', index], 'sign-encrypt, or sign', `none${where}`, {
    hint: 'messages can be read and changed on the way, and no certificate says who the client is',
  });
}
