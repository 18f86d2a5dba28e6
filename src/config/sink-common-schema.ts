/** What every kind of sink has in the configuration, and the leaves that several kinds use. Secrets stand elsewhere, never here. */
import * as z from 'zod';
import {
  decimal,
  filePath,
  flag,
  list,
  milliseconds,
  name,
  oneOf,
  variableName,
  wholeNumber,
} from './leaves.js';

const HOUR_MS = 3_600_000;

/** Keys of each kind, beside its own; `kind` is one word. */
export function sinkKeys<const K extends string>(kind: K) {
  return {
    name: name('Name of the sink: in commands, figures and its ledger.'),
    kind: z.literal(kind, { error: `the kind ${kind}` }).meta({ description: 'What it is.' }),
    streams: list(
      oneOf(['rollups', 'transients', 'alarms', 'journal', 'manifests'], 'Stream.'),
      'streams',
      'Which streams it gets. Absent: all.',
    )
      .min(1, { error: 'at least one stream; leave the key away for all' })
      .default(['rollups', 'transients', 'alarms', 'journal', 'manifests']),
    periods: list(oneOf(['1m', '10m', '1h'], 'Period.'), 'periods', 'Which rollups it gets. Absent: all.')
      .min(1, { error: 'at least one period; leave the key away for all' })
      .default(['1m', '10m', '1h']),
    backlogPerS: wholeNumber(
      1,
      1_000_000,
      'records a second',
      'Pace of what comes behind the live records: a backlog after an outage, and backfills.',
    ).default(2_000),
    ageDaysMax: decimal(
      0.01,
      3_650,
      'days',
      'What waited for so long is given up, and entered in the loss ledger.',
    ).default(30),
    backlogBytesMax: wholeNumber(
      65_536,
      1_099_511_627_776,
      'bytes',
      'Most bytes of the outbox that wait for it; beyond it the oldest of the lowest tier are given up, 1 min rollups first.',
    ).default(268_435_456),
    deadlineMs: milliseconds(
      500,
      120_000,
      'Each call ends after so long, and its socket is destroyed.',
    ).default(15_000),
    retryMostMs: milliseconds(
      1_000,
      HOUR_MS,
      'Longest wait between two attempts while it fails; the wait grows and is drawn by lot.',
    ).default(30_000),
  };
}

const LOGIN = 'a login of 1 to 256 characters';
export const sinkLogin = z
  .string({ error: LOGIN })
  .regex(/^[^\s:]{1,256}$/, { error: LOGIN })
  .optional()
  .meta({ description: 'Login at the receiver. Absent: none.' });

/** `<stem>File` and `<stem>Env`: check-sinks.ts sees to it that at most one is there, and sink-settings.ts reads it. */
export const SECRET_STEMS = ['password', 'secret', 'token'] as const;
export const secretFile = (what: string) =>
  filePath.optional().meta({ description: `File with ${what}, relative to this file.` });
export const secretEnv = (what: string) =>
  variableName.optional().meta({ description: `Environment variable with ${what}.` });

/** Files in PEM, by the name under which a sink finds them among its secrets. */
export const PEM_STEMS = ['ca', 'cert', 'key'] as const;
export const pemKeys = {
  caFile: filePath.optional().meta({
    description: 'Certificate authorities in PEM, where the receiver has a certificate of the site’s own.',
  }),
  certFile: filePath.optional().meta({ description: 'Certificate of the gateway in PEM, with keyFile.' }),
  keyFile: filePath.optional().meta({ description: 'Key of that certificate in PEM.' }),
  verifyServer: flag(
    'false: whatever certificate the receiver shows is taken. Only to try something out.',
  ).default(true),
};

/** An address with one of these schemes; `example` is shown when it is none. */
export function addressOf(schemes: readonly string[], example: string, description: string) {
  const expected = `an address such as ${example}`;
  return z
    .string({ error: expected })
    .max(2_000, { error: expected })
    .refine((text) => URL.canParse(text) && schemes.includes(new URL(text).protocol), { error: expected })
    .meta({ description });
}
