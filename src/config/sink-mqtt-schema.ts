/** A sink of the kind `mqtt`: another broker, QoS 1. */
import * as z from 'zod';
import { mapping, wholeNumber } from './leaves.js';
import { addressOf, pemKeys, secretEnv, secretFile, sinkKeys, sinkLogin } from './sink-common-schema.js';

const CLIENT_ID = 'a client id of 1 to 200 letters, digits, dots, hyphens or underscores';
const TOPIC = 'topic levels such as plant/tallypost, without + and #';

export const mqttSink = mapping(
  {
    ...sinkKeys('mqtt'),
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
    topic: z
      .string({ error: TOPIC })
      .regex(/^[^+#/\u0000][^+#\u0000]{0,199}$/, { error: TOPIC })
      .optional()
      .meta({ description: 'Where its topics begin. Absent: tallypost/<site>.' }),
    user: sinkLogin,
    passwordFile: secretFile('the password'),
    passwordEnv: secretEnv('the password'),
    ...pemKeys,
    inFlightMax: wholeNumber(1, 10_000, 'messages', 'Most messages that wait for their PUBACK.').default(500),
  },
  'Another MQTT broker. QoS 1; its PUBACK is the delivery.',
);
