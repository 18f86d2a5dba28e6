/** What the schema cannot see in `sinks`: equal names, secrets without or with two places, logins and records in the clear. */
import { isLoopback } from './endpoint.js';
import { fillForwardingAlarm } from './forwarding-alarm.js';
import type { Report } from './report.js';
import type { FileContent } from './schema.js';
import { SECRET_STEMS } from './sink-common-schema.js';

type FileSink = FileContent['sinks'][number];
type Path = readonly (string | number)[];

/** Their connection is not private. */
const CLEAR = ['mqtt:', 'http:'];

export function checkSinks({ sinks, alarms }: FileContent, report: Report): void {
  const names = new Set<string>();
  sinks.forEach((sink, index) => {
    const path = ['sinks', index];
    if (names.has(sink.name))
      report.error([...path, 'name'], 'a name that no other sink has', `"${sink.name}" again`);
    names.add(sink.name);
    checkSecrets(path, sink, report);
    checkAddress(path, sink, report);
  });
  checkFolders(sinks, report);
  checkLimit(alarms['forwarding-behind'], report);
}

/** Keys of any kind by name: each kind has some of them. */
function keysOf(sink: FileSink): Readonly<Record<string, unknown>> {
  return { ...sink };
}

function checkSecrets(path: Path, sink: FileSink, report: Report): void {
  const keys = keysOf(sink);
  for (const stem of SECRET_STEMS) {
    if (keys[`${stem}File`] === undefined || keys[`${stem}Env`] === undefined) continue;
    report.error(path, `one of ${stem}File and ${stem}Env`, 'both', { at: 'key' });
  }
  const has = (stem: string): boolean =>
    keys[`${stem}File`] !== undefined || keys[`${stem}Env`] !== undefined;
  if (has('password') && keys.user === undefined)
    report.error(path, 'a user beside the password', 'none', { at: 'key' });
  if (has('token') && keys.user !== undefined)
    report.error([...path, 'user'], 'a token or a login', 'both', { at: 'key' });
  if ((keys.certFile === undefined) !== (keys.keyFile === undefined))
    report.error(path, 'certFile and keyFile together', 'one of them', { at: 'key' });
}

function checkAddress(path: Path, sink: FileSink, report: Report): void {
  const text = keysOf(sink).url;
  if (typeof text !== 'string') return;
  const address = new URL(text);
  if (address.username !== '' || address.password !== '') {
    report.error([...path, 'url'], 'an address without a login in it', 'a text that is not shown', {
      hint: 'use user and passwordFile, and change that password',
    });
    return;
  }
  const host = address.hostname.replace(/^\[|\]$/g, '');
  const isClear = CLEAR.includes(address.protocol) || keysOf(sink).encryption === 'none';
  if (!isClear || isLoopback({ host, port: 0 })) return;
  report.warn([...path, 'url'], 'an encrypted connection to another machine', `"${text}"`, {
    hint: 'whoever is on the way reads the records and the login',
  });
}

/** Two sinks that replace one another's files would each undo what the other did. */
function checkFolders(sinks: readonly FileSink[], report: Report): void {
  const taken = new Set<string>();
  sinks.forEach((sink, index) => {
    const { folder } = keysOf(sink);
    if (typeof folder !== 'string') return;
    const path = folder.replace(/\/+$/, '');
    if (taken.has(path))
      report.error(['sinks', index, 'folder'], 'a folder that no other sink has', `"${folder}" again`);
    taken.add(path);
  });
}

/** An alarm that could never return. */
function checkLimit(given: FileContent['alarms']['forwarding-behind'], report: Report): void {
  const alarm = fillForwardingAlarm(given);
  if (alarm === null || alarm.deadbandMs < alarm.limitMs) return;
  const path = ['alarms', 'forwarding-behind'];
  const { limitMs, deadbandMs } = alarm;
  report.error(path, `a deadbandMs below limitMs, which is ${limitMs}`, `${deadbandMs}`, { at: 'key' });
}
