/** What the schema cannot see in `http`: open doors, logins given twice, and passwords that go over a network in the clear. */
import { judgeListener } from './check-site.js';
import type { Config } from './config.js';
import { formatEndpoint, isLoopback } from './endpoint.js';
import type { Report } from './report.js';
import type { FileContent } from './schema.js';

export function checkHttp(content: FileContent, config: Config, report: Report): void {
  const { http } = config;
  const refusal = judgeListener(http.listen, http.users !== null);
  if (refusal !== null) {
    const hint = 'configure http.users to open it to the network';
    report.error(['http', 'listen'], refusal, `"${content.http.listen}"`, { hint });
  } else if (!isLoopback(http.listen) && http.tls === null) {
    const hint =
      'without it passwords can be read on the way: give http.tls, or put a proxy with TLS in front';
    report.warn(['http', 'listen'], 'http.tls for an address on a network', `"${content.http.listen}"`, {
      hint,
    });
  }
  const { host, port } = config.mqtt.listen;
  if (port !== 0 && port === http.listen.port && host === http.listen.host)
    report.error(['http', 'listen'], 'another port than mqtt.listen', `"${formatEndpoint(http.listen)}"`);
  checkUsers(content, report);
  if (http.kiosk && http.users === null)
    report.warn(['http', 'kiosk'], 'users beside it', 'none', {
      hint: 'without users everything can be read without a login anyway',
    });
}

function checkUsers({ http }: FileContent, report: Report): void {
  const seen = new Set<string>();
  (http.users ?? []).forEach((user, index) => {
    const path = ['http', 'users', index];
    if (seen.has(user.name)) report.error([...path, 'name'], 'every login name once', `"${user.name}" again`);
    seen.add(user.name);
    const given = [user.passwordFile, user.passwordEnv].filter((reference) => reference !== undefined);
    if (given.length === 1) return;
    const found = given.length === 0 ? 'neither' : 'both';
    report.error(path, 'one of passwordFile and passwordEnv', found, { at: 'key' });
  });
  const roles = (http.users ?? []).map(({ role }) => role);
  if (roles.length > 0 && !roles.includes('engineer'))
    report.warn(['http', 'users'], 'one user with the role engineer', 'none', {
      hint: 'nobody can rehearse, commission or back up over HTTP',
    });
}
