/** A sink of the kind `sparkplug`: an edge node of Sparkplug 3.0. */
import * as z from 'zod';
import { mapping, milliseconds } from './leaves.js';
import { addressOf, pemKeys, secretEnv, secretFile, sinkKeys, sinkLogin } from './sink-common-schema.js';

const CLIENT_ID = 'a client id of 1 to 200 letters, digits, dots, hyphens or underscores';
const ID = 'an id of 1 to 100 characters, without +, # and /';
const id = (description: string) =>
  z
    .string({ error: ID })
    .regex(/^[^+#/\u0000]{1,100}$/, { error: ID })
    .meta({ description });

export const sparkplugSink = mapping(
  {
    ...sinkKeys('sparkplug'),
    url: addressOf(
      ['mqtt:', 'mqtts:'],
      'mqtts://broker.tarn-hollow.example:8883',
      'The broker: mqtts:// or, in the clear, mqtt://.',
    ),
    clientId: z
      .string({ error: CLIENT_ID })
      .regex(/^[A-Za-z0-9._-]{1,200}$/, { error: CLIENT_ID })
      .optional()
      .meta({ description: 'Client id. Absent: tallypost-<site>-<name>.' }),
    group: id('Group of the edge node. Absent: the site.').optional(),
    node: id('The edge node; no other in the group may be called so.').default('tallypost'),
    primaryHost: id(
      'The host that must be online for records to be sent. Absent: they are sent whether or not anybody listens.',
    ).optional(),
    rebirthMs: milliseconds(
      0,
      600_000,
      'Least time between two births on request; more requests are answered together.',
    ).default(10_000),
    doubtMs: milliseconds(
      0,
      3_600_000,
      'What was sent so long before the primary host, the broker or the gateway went is sent again from the store; 0: nothing is.',
    ).default(120_000),
    user: sinkLogin,
    passwordFile: secretFile('the password'),
    passwordEnv: secretEnv('the password'),
    ...pemKeys,
  },
  'An edge node of Sparkplug 3.0 whose devices are the motors.',
);
