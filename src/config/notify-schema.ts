/** The section `notify`: mail server, webhooks and routes. Passwords, tokens and signing secrets stand elsewhere, never here. */
import * as z from 'zod';
import {
  filePath,
  flag,
  list,
  mapping,
  milliseconds,
  name,
  namePattern,
  oneOf,
  section,
  variableName,
  wholeNumber,
} from './leaves.js';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

const ADDRESS = 'an e-mail address such as shift@tarn-hollow.example, without a name beside it';
const address = (description: string) =>
  z
    .string({ error: ADDRESS })
    .regex(/^[^\s@<>(),;:"[\]\\]{1,64}@[A-Za-z0-9]([A-Za-z0-9.-]{0,250}[A-Za-z0-9])?$/, { error: ADDRESS })
    .meta({ description });

const HOST = 'a host name or an IP address';
const hostName = z
  .string({ error: HOST })
  .regex(/^[A-Za-z0-9:]([A-Za-z0-9.:-]{0,251}[A-Za-z0-9:])?$/, { error: HOST });

const URL_EXPECTED = 'an address that begins with https:// (or http:// on this machine)';
const url = z.string({ error: URL_EXPECTED }).refine(isWebAddress, { error: URL_EXPECTED });

function isWebAddress(text: string): boolean {
  if (!URL.canParse(text)) return false;
  return ['https:', 'http:'].includes(new URL(text).protocol);
}

const LOGIN = 'a login of 1 to 256 characters';
const login = z
  .string({ error: LOGIN })
  .regex(/^[^\s:]{1,256}$/, { error: LOGIN })
  .optional();

const secretFile = filePath.optional();
const secretEnv = variableName.optional();

const mail = mapping(
  {
    host: hostName.meta({ description: 'The mail server.' }),
    port: wholeNumber(1, 65_535, '', 'Absent: 587 for starttls, 465 for tls, 25 for none.').optional(),
    security: oneOf(
      ['starttls', 'tls', 'none'],
      'starttls: nothing is said before TLS. tls: from the first byte. none: in the clear.',
    ).default('starttls'),
    user: login.meta({ description: 'Login at the mail server. Absent: none.' }),
    passwordFile: secretFile.meta({ description: 'File with the password, relative to this file.' }),
    passwordEnv: secretEnv.meta({ description: 'Environment variable with the password.' }),
    from: address('Sender of the messages.'),
    caFile: filePath.optional().meta({
      description: 'Certificate authorities in PEM, where the server has a certificate of the site’s own.',
    }),
    timeoutMs: milliseconds(
      500,
      120_000,
      'For each phase: name look-up, connection, greeting, silence in between.',
    ).default(20_000),
  },
  'The mail server that routes with e-mail send through.',
);

const webhook = mapping(
  {
    url: url.meta({ description: 'Where messages are posted as JSON.' }),
    secretFile: secretFile.meta({ description: 'File with the secret that signs each request.' }),
    secretEnv: secretEnv.meta({ description: 'Environment variable with that secret.' }),
    tokenFile: secretFile.meta({ description: 'File with a bearer token, where the receiver asks for one.' }),
    tokenEnv: secretEnv.meta({ description: 'Environment variable with that token.' }),
    user: login.meta({ description: 'Login for basic authentication, instead of a token.' }),
    passwordFile: secretFile.meta({ description: 'File with the password of that login.' }),
    passwordEnv: secretEnv.meta({ description: 'Environment variable with that password.' }),
    timeoutMs: milliseconds(500, 120_000, 'From the first byte to the answer.').default(10_000),
  },
  'A receiver of messages over HTTP.',
);

export const WEEKDAYS = ['sun', 'mon', 'tue', 'wed', 'thu', 'fri', 'sat'] as const;

const CLOCK = 'a time of day such as "06:00", in quotes';
const clock = (pattern: RegExp, description: string) =>
  z.string({ error: CLOCK }).regex(pattern, { error: CLOCK }).meta({ description });

const window = mapping(
  {
    days: list(
      oneOf(WEEKDAYS, 'Day of the week.'),
      'days such as mon',
      'Days on which it begins. Absent: all.',
    )
      .min(1, { error: 'at least one day; leave the key away for all' })
      .optional(),
    from: clock(/^([01]\d|2[0-3]):[0-5]\d$/, 'When it opens, in the zone of the site.'),
    to: clock(
      /^(([01]\d|2[0-3]):[0-5]\d|24:00)$/,
      'When it closes; before `from`: on the following day. "24:00": the end of the day.',
    ),
  },
  'A time of the week.',
);

const RECIPIENTS_MAX = 50;

const route = mapping(
  {
    priorities: list(
      oneOf(['low', 'medium', 'high'], 'Priority.'),
      'priorities',
      'Which it takes. Absent: all.',
    ).optional(),
    zones: list(
      name('Zone.'),
      'zones',
      'Of which zones. Absent: all, and what is of none, as the gateway itself.',
    ).optional(),
    motors: list(
      namePattern('a motor'),
      'motors',
      'Of which motors; gateway: the gateway itself. Absent: all.',
    ).optional(),
    kinds: list(
      z.string({ error: 'a kind of alarm' }).max(40, { error: 'a kind of alarm' }),
      'kinds of alarms',
      'Which kinds, such as rate-high. Absent: all.',
    ).optional(),
    windows: list(window, 'times of the week', 'When it is open. Absent: always.')
      .min(1, { error: 'at least one window; leave the key away for always' })
      .optional(),
    outside: oneOf(
      ['skip', 'wait'],
      'What comes while it is closed: skip leaves it to other routes, wait tells it when the route opens.',
    ).default('skip'),
    onlyEscalated: flag('true: it gets nothing but what another route escalates to it.').default(false),
    email: list(address('Recipient.'), 'e-mail addresses', 'Recipients of e-mail.')
      .min(1, { error: 'at least one address; leave the key away for no e-mail' })
      .max(RECIPIENTS_MAX, { error: `at most ${RECIPIENTS_MAX} addresses; use a list of the mail server` })
      .optional(),
    webhook: name('One of the webhooks.').optional(),
    escalateTo: name(
      'Route that is told when nobody has acknowledged within the time to respond.',
    ).optional(),
    tellReturns: flag('Tell the return of what was told.').default(true),
    tellAcknowledgements: flag('Tell the acknowledgement of what was told.').default(false),
    burst: wholeNumber(1, 1_000, 'messages', 'Most messages at once.').default(6),
    messagesPerHour: wholeNumber(
      1,
      3_600,
      'messages',
      'Most messages an hour in the long run; what is more is summed up in the next.',
    ).default(12),
  },
  'Who is told of what, and how.',
);

const respond = (what: string, fallback: number) =>
  milliseconds(
    1_000,
    30 * DAY_MS,
    `Time to respond to an alarm of ${what} priority without a timeToRespondMs of its own.`,
  ).default(fallback);

export const notifySection = section(
  {
    waitMs: milliseconds(
      0,
      600_000,
      'What comes within this time of the first goes into one message.',
    ).default(30_000),
    queueMax: wholeNumber(
      1,
      10_000,
      'messages',
      'Most messages that wait for one channel; beyond it the oldest is dropped, into the journal.',
    ).default(100),
    failingMs: milliseconds(0, DAY_MS, 'A channel that fails for so long is told in the journal.').default(
      300_000,
    ),
    respondMs: section(
      {
        low: respond('low', 8 * HOUR_MS),
        medium: respond('medium', HOUR_MS),
        high: respond('high', 600_000),
      },
      'Time to respond by priority; after it an unacknowledged alarm escalates.',
    ),
    mail: mail.optional(),
    webhooks: z
      .record(name('Name of a webhook.'), webhook, { error: 'a mapping of webhooks' })
      .default({})
      .meta({ description: 'Receivers over HTTP.' }),
    routes: z
      .record(name('Name of a route.'), route, { error: 'a mapping of routes' })
      .default({})
      .meta({ description: 'Who is told of what. None: nobody is, beside MQTT and the page.' }),
  },
  'Messages to people and programs about alarms.',
);
