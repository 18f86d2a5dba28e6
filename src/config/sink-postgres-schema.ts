/** A sink of the kind `postgres`: rows in tables of a PostgreSQL 13 or newer. */
import * as z from 'zod';
import { mapping, oneOf } from './leaves.js';
import { addressOf, pemKeys, secretEnv, secretFile, sinkKeys } from './sink-common-schema.js';

const LOGIN = 'a login of 1 to 63 characters';
const SCHEMA = 'a name of small letters, digits and underscores, such as tallypost';

export const postgresSink = mapping(
  {
    ...sinkKeys('postgres'),
    url: addressOf(
      ['postgresql:', 'postgres:'],
      'postgresql://db.tarn-hollow.example:5432/plant',
      'Server and database: postgresql://host:port/database. Directly, or through a pooler that keeps sessions.',
    ),
    encryption: oneOf(
      ['tls', 'none'],
      'tls: nothing is said in the clear. none: whoever is on the way reads along.',
    ).default('tls'),
    user: z
      .string({ error: LOGIN })
      .regex(/^[^\s\u0000]{1,63}$/, { error: LOGIN })
      .default('tallypost')
      .meta({ description: 'Login at the server.' }),
    passwordFile: secretFile('the password of that login'),
    passwordEnv: secretEnv('the password of that login'),
    schema: z
      .string({ error: SCHEMA })
      .regex(/^[a-z_][a-z0-9_]{0,39}$/, { error: SCHEMA })
      .default('tallypost')
      .meta({ description: 'Schema of the tables.' }),
    hypertables: oneOf(
      ['auto', 'never'],
      'auto: rollups become a hypertable where the extension for it is present. never: plain tables.',
    ).default('auto'),
    ...pemKeys,
  },
  'Tables of a PostgreSQL 13 or newer; created by `tallypost sinks prepare`.',
);
