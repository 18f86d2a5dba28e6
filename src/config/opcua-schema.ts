/** The section `opcua`: where the OPC UA server listens, how it is secured, and who may log in. */
import { endpointText } from './endpoint.js';
import {
  decimal,
  filePath,
  flag,
  list,
  mapping,
  milliseconds,
  oneOf,
  variableName,
  wholeNumber,
} from './leaves.js';
import { staleLimit } from './modbus-schema.js';
import * as z from 'zod';

const LOGIN = 'a login name of 1 to 64 letters, digits, dots, hyphens or underscores';

const user = mapping(
  {
    name: z
      .string({ error: LOGIN })
      .regex(/^[A-Za-z0-9._-]{1,64}$/, { error: LOGIN })
      .meta({ description: 'Login name.' }),
    passwordFile: filePath.optional().meta({ description: 'File with the password, relative to this file.' }),
    passwordEnv: variableName.optional().meta({ description: 'Environment variable with the password.' }),
    role: oneOf(
      ['viewer', 'operator'],
      'viewer: reads. operator: also acknowledges, confirms and shelves alarms.',
    ).default('viewer'),
  },
  'One login. The password stands elsewhere, never here.',
);

export const SECURITY_MODES = ['sign-encrypt', 'sign', 'none'] as const;

export const opcuaSection = mapping(
  {
    listen: endpointText('127.0.0.1:4840', 'HOST:PORT of the OPC UA server.'),
    security: list(
      oneOf(SECURITY_MODES, 'How messages are protected.'),
      'security modes',
      'Modes that are offered. none: in the clear, and nobody knows who asks.',
    )
      .min(1, { error: 'at least one of sign-encrypt, sign, none' })
      .max(3, { error: 'each mode once' })
      .default(['sign-encrypt']),
    users: list(user, 'users', 'Logins.')
      .min(1, { error: 'at least one user; leave the key away for none' })
      .max(100, { error: 'at most 100 users' })
      .optional(),
    anonymous: flag('true: who has no login may read; it may never act.').default(false),
    sessionsMax: wholeNumber(1, 100, 'sessions', 'Most sessions at a time.').default(20),
    idleMs: milliseconds(
      10_000,
      3_600_000,
      'Longest time for which a session may say nothing; clients may ask for less.',
    ).default(120_000),
    rangePerMin: decimal(
      1,
      1e9,
      'discharges per minute',
      'Upper end of the range that displays show (EURange); not a limit and not a setpoint.',
    ).default(600),
    staleMs: staleLimit,
    memoryMbMax: wholeNumber(
      128,
      4_096,
      'megabytes',
      'Most heap of its process; beyond it the process ends and starts again.',
    ).default(512),
  },
  'OPC UA server for HMI and SCADA; needs the package node-opcua-server. Absent: no such server.',
);
