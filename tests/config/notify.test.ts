/** Golden messages of `notify`: routes without a way out, names that lead nowhere, circles, secrets in the clear. */
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { parseConfig } from '../../src/config/parse.js';
import { formatProblem } from '../../src/config/problem.js';
import { resolveNotifySecrets } from '../../src/config/notify-secrets.js';
import { readNotifySettings } from '../../src/gateway-notify.js';
import { repositoryRoot } from '../support/repository.js';

const SITE = 'site: works\nmotors:\n  pump-{1..8}:\n    positions: { de: {} }\n';
const MAIL = '  mail: { host: mail.works.example, from: tallypost@works.example }\n';

function parse(notify: string, name = 'plant.yaml') {
  return parseConfig(`${SITE}notify:\n${notify}`, name);
}

function faultsOf(notify: string): string[] {
  const result = parse(notify);
  return result.ok ? [] : result.problems.map(formatProblem);
}

function warningsOf(notify: string): string[] {
  const result = parse(notify);
  return result.ok ? result.warnings.map(formatProblem) : ['refused', ...faultsOf(notify)];
}

function configOf(notify: string, name?: string) {
  const result = parse(notify, name);
  if (!result.ok) throw new Error(result.problems.map(formatProblem).join('\n'));
  return result.config;
}

describe('routes', () => {
  test('need a way out, and one that exists', () => {
    expect(
      faultsOf('  routes:\n    a: {}\n    b: { email: [x@works.example] }\n    c: { webhook: dsk }\n'),
    ).toEqual([
      'plant.yaml:7:5 notify.routes.a: expected email or webhook, found neither',
      'plant.yaml:8:10 notify.routes.b.email: expected a mail server under notify.mail, found none',
      'plant.yaml:9:19 notify.routes.c.webhook: expected a webhook of this file, found "dsk"',
    ]);
  });

  test('escalate to a route of the file, and not in a circle', () => {
    const way = 'email: [x@works.example]';
    const routes = `  routes:\n    day: { ${way}, escalateTo: nights }\n    night: { ${way}, escalateTo: boss }\n    boss: { ${way}, escalateTo: night }\n    own: { ${way}, escalateTo: own }\n`;
    expect(faultsOf(MAIL + routes)).toEqual([
      'plant.yaml:8:50 notify.routes.day.escalateTo: expected a route of this file, found "nights"; did you mean "night"?',
      'plant.yaml:9:52 notify.routes.night.escalateTo: expected an escalation that ends, found the circle night -> boss -> night',
      'plant.yaml:11:50 notify.routes.own.escalateTo: expected an escalation that ends, found the circle own -> own',
    ]);
  });

  test('take zones, motors and kinds that there are', () => {
    const select = 'zones: [hal], motors: ["pump-{1..9}", gateway], kinds: [rate-hihg, storage-failed]';
    expect(faultsOf(`${MAIL}  routes:\n    a: { email: [x@works.example], ${select} }\n`)).toEqual([
      'plant.yaml:8:44 notify.routes.a.zones[0]: expected a zone of this file, found "hal"',
      'plant.yaml:8:59 notify.routes.a.motors[0]: expected a motor of this file, or gateway, found "pump-9"; did you mean "pump-1"?',
      'plant.yaml:8:92 notify.routes.a.kinds[0]: expected a kind of alarm, found "rate-hihg"; did you mean "rate-high"?',
    ]);
  });

  test('have addresses that are addresses, and windows that open', () => {
    const broken = '    a: { email: ["The Shift <x@works.example>", nobody] }\n';
    expect(faultsOf(`${MAIL}  routes:\n${broken}`)).toEqual([
      'plant.yaml:8:18 notify.routes.a.email[0]: expected an e-mail address such as shift@tarn-hollow.example, without a name beside it, found "The Shift <x@works.example>"',
      'plant.yaml:8:49 notify.routes.a.email[1]: expected an e-mail address such as shift@tarn-hollow.example, without a name beside it, found "nobody"',
    ]);
    const windows = 'windows: [{ from: "06:00", to: "06:00" }, { days: [mo], from: "25:00", to: "24:00" }]';
    expect(faultsOf(`${MAIL}  routes:\n    a: { email: [x@works.example], ${windows} }\n`)).toEqual([
      'plant.yaml:8:87 notify.routes.a.windows[1].days[0]: expected one of sun, mon, tue, wed, thu, fri, sat, found "mo"; did you mean "mon"?',
      'plant.yaml:8:98 notify.routes.a.windows[1].from: expected a time of day such as "06:00", in quotes, found "25:00"',
    ]);
    const same = 'windows: [{ from: "06:00", to: "06:00" }]';
    expect(faultsOf(`${MAIL}  routes:\n    a: { email: [x@works.example], ${same} }\n`)).toEqual([
      'plant.yaml:8:67 notify.routes.a.windows[0].to: expected another time than from, found "06:00" (leave the windows away for always, or write "00:00" to "24:00" for whole days)',
    ]);
  });

  test('that leave somebody untold, or are never told anything, are warned of', () => {
    const routes =
      '  routes:\n    a: { email: [x@works.example], priorities: [high, medium] }\n    b: { email: [y@works.example], onlyEscalated: true, windows: [{ from: "06:00", to: "18:00" }] }\n';
    expect(warningsOf(MAIL + routes)).toEqual([
      'plant.yaml:7:3 notify.routes: expected a route for alarms of low priority, found none',
      'plant.yaml:9:51 notify.routes.b.onlyEscalated: expected a route that escalates to it, found none (it never gets anything)',
      'plant.yaml:9:66 notify.routes.b.windows: expected no windows beside onlyEscalated, found a list (an escalation is told at any hour)',
    ]);
  });
});

describe('secrets', () => {
  test('stand elsewhere, one reference each, and never go out in the clear', () => {
    const mail =
      '  mail: { host: mail.works.example, security: none, user: t, passwordEnv: A, from: t@works.example }\n';
    const hooks =
      '  webhooks:\n    a: { url: "https://desk.works.example/" }\n    b: { url: "https://u:p@desk.works.example/", secretEnv: B, tokenEnv: C, user: x, passwordEnv: D }\n    c: { url: "ftp://desk.works.example/", secret: hush }\n';
    const faults = faultsOf(mail + hooks);
    expect(faults).toEqual([
      'plant.yaml:6:47 notify.mail.security: expected starttls or tls, since there is a password to protect, found "none"',
      'plant.yaml:8:5 notify.webhooks.a: expected one of secretFile and secretEnv, found neither',
      'plant.yaml:9:15 notify.webhooks.b.url: expected an address without a login in it, found a text that is not shown (use user and passwordFile, and change that password)',
      'plant.yaml:9:77 notify.webhooks.b.user: expected a token or a login, found both',
      'plant.yaml:10:15 notify.webhooks.c.url: expected an address that begins with https:// (or http:// on this machine), found "ftp://desk.works.example/"',
      'plant.yaml:10:44 notify.webhooks.c.secret: expected secretFile or secretEnv, found a literal password (this file ends up in backups and in version control: take the password out and change it)',
    ]);
    expect(faults.join()).not.toContain('hush');
  });

  test('are read from files and variables; all that is missing is said at once', () => {
    const folder = mkdtempSync(join(tmpdir(), 'tallypost-secrets-'));
    writeFileSync(join(folder, 'mail-password'), 'open sesame\n', { mode: 0o600 });
    const text =
      '  mail: { host: mail.works.example, user: t, passwordFile: mail-password, from: t@works.example }\n' +
      '  webhooks:\n    a: { url: "https://desk.works.example/", secretEnv: A_SECRET, tokenEnv: A_TOKEN }\n' +
      '    b: { url: "https://desk.works.example/", secretEnv: B_SECRET, user: me, passwordEnv: B_WORD }\n';
    const config = configOf(text, join(folder, 'plant.yaml'));
    const words = {
      A_SECRET: 'sixteen letters!',
      A_TOKEN: 'abc',
      B_SECRET: 'sixteen letters?',
      B_WORD: 'pw',
    };
    const secrets = resolveNotifySecrets(config, words);
    expect(secrets.mailPassword).toBe('open sesame');
    expect(secrets.webhooks.get('a')).toEqual({ secret: 'sixteen letters!', authorization: 'Bearer abc' });
    expect(secrets.webhooks.get('b')?.authorization).toBe('Basic bWU6cHc=');
    expect(() => resolveNotifySecrets(config, { ...words, A_SECRET: 'short', B_WORD: '' })).toThrow(
      'notify.webhooks.a: the signing secret has fewer than 16 characters\n' +
        'notify.webhooks.b: environment variable B_WORD is not set or empty: set it to the password',
    );
  });
});

test('everything with a default may be missing; braces, ports and windows are worked out', () => {
  const config = configOf(
    `${MAIL}  routes:\n    night: { email: [x@works.example], motors: ["pump-{1..2}"], windows: [{ days: [fri], from: "22:00", to: "06:30" }] }\n`,
  );
  const { settings, warnings } = readNotifySettings(config);
  expect(warnings).toEqual([]);
  expect(settings.mail).toMatchObject({ port: 587, security: 'starttls', login: null });
  expect(settings.plan.routes.get('night')).toMatchObject({
    ...{ name: 'night', motors: ['pump-1', 'pump-2'], zones: null, outside: 'skip', tellReturns: true },
    windows: [{ days: [5], from: 1_320, to: 390 }],
  });
  expect(configOf('  {}\n').notify).toMatchObject({ routes: {}, mail: null, waitMs: 30_000 });
});

test.each([
  ['docs/notify.md', /```yaml\n(notify:[\s\S]*?)```/, ''],
  ['config/tarn-hollow.yaml', /(# {3}notify:\n(?:# {5}.*\n)+)/, '#   '],
])('the example in %s is right', (file, pattern, comment) => {
  const found = pattern.exec(readFileSync(join(repositoryRoot(), file), 'utf8'))?.[1] ?? '';
  const text = found
    .split('\n')
    .map((line) => line.slice(comment.length))
    .join('\n');
  const result = parseConfig(`${SITE}${text}`, 'plant.yaml');
  expect(result.ok ? result.warnings.map(formatProblem) : result.problems.map(formatProblem)).toEqual([]);
  expect(result.ok && Object.keys(result.config.notify.routes)).toEqual(['day', 'urgent', 'manager']);
});
