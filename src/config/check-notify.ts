/** What the schema cannot see in `notify`: names that lead nowhere, circles, routes without a way out, secrets in the clear. */
import { ALARM_KINDS } from '../../shared/alarm-terms.js';
import { checkNames } from './check-motors.js';
import type { Config } from './config.js';
import { isLoopback } from './endpoint.js';
import type { Report } from './report.js';
import type { FileContent } from './schema.js';
import { suggestWord } from './suggestion.js';

type FileNotify = FileContent['notify'];
type FileRoute = FileNotify['routes'][string];
type Path = readonly (string | number)[];

/** They ask nothing of the operator, so that nobody is ever told of them. */
const NOTICES = ['silent-in-company', 'zone-burst'];
/** A flood is no alarm, and told all the same. */
const KINDS: readonly string[] = [...Object.keys(ALARM_KINDS), 'flood'].filter(
  (kind) => !NOTICES.includes(kind),
);
const PRIORITIES = ['low', 'medium', 'high'] as const;

export function checkNotify({ notify }: FileContent, config: Config, report: Report): void {
  checkMail(notify.mail, report);
  for (const [name, webhook] of Object.entries(notify.webhooks)) checkWebhook(name, webhook, report);
  for (const [name, route] of Object.entries(notify.routes)) {
    checkWays(name, route, notify, report);
    checkSelection(name, route, config, report);
    checkWindows(name, route, report);
  }
  checkEscalations(notify, report);
  checkReach(notify, report);
}

/** At most one of two keys that refer to a secret, or, where it is needed, exactly one. */
function checkReference(
  path: Path,
  keys: readonly [file: string, env: string],
  given: readonly [string | undefined, string | undefined],
  isNeeded: boolean,
  report: Report,
): void {
  const count = given.filter((one) => one !== undefined).length;
  if (count === 1 || (count === 0 && !isNeeded)) return;
  report.error(path, `one of ${keys[0]} and ${keys[1]}`, count === 0 ? 'neither' : 'both', { at: 'key' });
}

function checkMail(mail: FileNotify['mail'], report: Report): void {
  if (mail === undefined) return;
  const path = ['notify', 'mail'];
  const isHere = isLoopback({ host: mail.host, port: 0 });
  const given = [mail.passwordFile, mail.passwordEnv] as const;
  checkReference(path, ['passwordFile', 'passwordEnv'], given, mail.user !== undefined, report);
  if (mail.user === undefined && given.some((one) => one !== undefined))
    report.error(path, 'a user beside the password', 'none', { at: 'key' });
  if (mail.security !== 'none' || isHere) return;
  if (mail.user !== undefined)
    report.error([...path, 'security'], 'starttls or tls, since there is a password to protect', '"none"');
  else
    report.warn([...path, 'security'], 'starttls or tls to another machine', '"none"', {
      hint: 'whoever is on the way reads and changes the messages',
    });
}

function checkWebhook(name: string, webhook: FileNotify['webhooks'][string], report: Report): void {
  const path = ['notify', 'webhooks', name];
  const { secretFile, secretEnv, tokenFile, tokenEnv, user, passwordFile, passwordEnv } = webhook;
  checkReference(path, ['secretFile', 'secretEnv'], [secretFile, secretEnv], true, report);
  checkReference(path, ['tokenFile', 'tokenEnv'], [tokenFile, tokenEnv], false, report);
  const hasPassword = passwordFile !== undefined || passwordEnv !== undefined;
  const needsPassword = user !== undefined;
  checkReference(path, ['passwordFile', 'passwordEnv'], [passwordFile, passwordEnv], needsPassword, report);
  if (!needsPassword && hasPassword) report.error(path, 'a user beside the password', 'none', { at: 'key' });
  if (needsPassword && (tokenFile !== undefined || tokenEnv !== undefined))
    report.error([...path, 'user'], 'a token or a login', 'both', { at: 'key' });
  const address = new URL(webhook.url);
  if (address.username !== '' || address.password !== '')
    report.error([...path, 'url'], 'an address without a login in it', 'a text that is not shown', {
      hint: 'use user and passwordFile, and change that password',
    });
  if (
    address.protocol === 'http:' &&
    !isLoopback({ host: address.hostname.replace(/^\[|\]$/g, ''), port: 0 })
  )
    report.warn([...path, 'url'], 'https:// to another machine', `"${webhook.url}"`, {
      hint: 'it is signed, but whoever is on the way reads it',
    });
}

function checkWays(name: string, route: FileRoute, notify: FileNotify, report: Report): void {
  const path = ['notify', 'routes', name];
  if (route.email === undefined && route.webhook === undefined)
    report.error(path, 'email or webhook', 'neither', { at: 'key' });
  if (route.email !== undefined && notify.mail === undefined)
    report.error([...path, 'email'], 'a mail server under notify.mail', 'none', { at: 'key' });
  checkKnown([...path, 'webhook'], route.webhook, Object.keys(notify.webhooks), 'webhook', report);
  checkKnown([...path, 'escalateTo'], route.escalateTo, Object.keys(notify.routes), 'route', report);
}

function checkKnown(
  path: Path,
  found: string | undefined,
  known: readonly string[],
  what: string,
  report: Report,
): void {
  if (found === undefined || known.includes(found)) return;
  const expected = `a ${what} of this file`;
  report.error(path, expected, `"${found}"`, { suggestion: suggestWord(found, known) });
}

function checkSelection(name: string, route: FileRoute, config: Config, report: Report): void {
  const path = ['notify', 'routes', name];
  const zones = [...new Set(config.motors.map(({ zone }) => zone))];
  route.zones?.forEach((zone, index) => checkKnown([...path, 'zones', index], zone, zones, 'zone', report));
  const motors = ['gateway', ...config.motors.map(({ key }) => key)];
  route.motors?.forEach((pattern, index) =>
    checkNames(pattern, [...path, 'motors', index], motors, 'a motor of this file, or gateway', report),
  );
  route.kinds?.forEach((kind, index) => {
    if (KINDS.includes(kind)) return;
    const suggestion = suggestWord(kind, KINDS);
    report.error([...path, 'kinds', index], 'a kind of alarm', `"${kind}"`, { suggestion });
  });
}

function checkWindows(name: string, route: FileRoute, report: Report): void {
  const path = ['notify', 'routes', name, 'windows'];
  route.windows?.forEach(({ from, to }, index) => {
    if (from !== to) return;
    const hint = 'leave the windows away for always, or write "00:00" to "24:00" for whole days';
    report.error([...path, index, 'to'], 'another time than from', `"${to}"`, { hint });
  });
}

/** Each circle is told once, at the route of it that comes first in the file. */
function checkEscalations({ routes }: FileNotify, report: Report): void {
  const done = new Set<string>();
  for (const first of Object.keys(routes)) {
    const trail: string[] = [];
    let here: string | undefined = first;
    while (here !== undefined && !trail.includes(here) && !done.has(here)) {
      trail.push(here);
      here = routes[here]?.escalateTo;
    }
    if (here !== undefined && trail.includes(here)) {
      const circle = [...trail.slice(trail.indexOf(here)), here];
      const path = ['notify', 'routes', here, 'escalateTo'];
      report.error(path, 'an escalation that ends', `the circle ${circle.join(' -> ')}`);
    }
    for (const name of trail) done.add(name);
  }
}

function checkReach({ routes }: FileNotify, report: Report): void {
  const names = Object.keys(routes);
  if (names.length === 0) return;
  const told = Object.values(routes).filter(({ onlyEscalated }) => !onlyEscalated);
  for (const priority of PRIORITIES) {
    if (told.some(({ priorities }) => priorities === undefined || priorities.includes(priority))) continue;
    report.warn(['notify', 'routes'], `a route for alarms of ${priority} priority`, 'none', { at: 'key' });
  }
  for (const name of names) {
    const { onlyEscalated, windows } = routes[name]!;
    if (!onlyEscalated || windows === undefined) continue;
    const hint = 'an escalation is told at any hour';
    report.warn(['notify', 'routes', name, 'windows'], 'no windows beside onlyEscalated', 'a list', { hint });
  }
  const targets = Object.values(routes).map(({ escalateTo }) => escalateTo);
  for (const name of names) {
    if (routes[name]?.onlyEscalated !== true || targets.includes(name)) continue;
    const path = ['notify', 'routes', name, 'onlyEscalated'];
    report.warn(path, 'a route that escalates to it', 'none', { hint: 'it never gets anything' });
  }
}
