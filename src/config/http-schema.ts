/** The section `http`: where the page and the API are served, to whom, and what may be seen without a login. */
import * as z from 'zod';
import { endpointText } from './endpoint.js';
import { decimal, filePath, flag, list, mapping, oneOf, section, variableName } from './leaves.js';

export const HTTP_ROLES = ['view', 'operate', 'engineer'] as const;

const LOGIN_RULE = 'a login name of 1 to 64 letters, digits, dots, hyphens or underscores';
const HOST_RULE = 'a host name or address without scheme and port, such as gateway-1.plant';

const httpUser = mapping(
  {
    name: z
      .string({ error: LOGIN_RULE })
      .regex(/^[A-Za-z0-9._-]{1,64}$/, { error: LOGIN_RULE })
      .meta({ description: 'Login name; it stands in the journal as who did it.' }),
    passwordFile: filePath.optional().meta({
      description:
        'File with the password, or with the line that tallypost hash-password writes, relative to this file.',
    }),
    passwordEnv: variableName.optional().meta({ description: 'Environment variable with the same.' }),
    role: oneOf(
      HTTP_ROLES,
      'view: reads. operate: also acts on alarms, counts, and enters actions and findings. engineer: everything.',
    ),
  },
  'One login of a person or a program. The password stands elsewhere, never here.',
);

const tls = mapping(
  {
    certFile: filePath.meta({ description: 'Certificate chain in PEM, relative to this file.' }),
    keyFile: filePath.meta({ description: 'Its private key in PEM, relative to this file.' }),
  },
  'HTTPS instead of HTTP.',
);

export const httpSection = section(
  {
    listen: endpointText('127.0.0.1:8080', 'HOST:PORT of the page and the API. Without users loopback only.'),
    users: list(
      httpUser,
      'users',
      'Logins. Absent: loopback only, and anyone on this machine may do everything.',
    )
      .min(1, { error: 'at least one user; leave the key away for loopback without logins' })
      .optional(),
    tls: tls.optional(),
    names: list(
      z.string({ error: HOST_RULE }).regex(/^[A-Za-z0-9._:-]{1,253}$/, { error: HOST_RULE }),
      'host names',
      'Names and addresses that it is reached by, beside the one it listens on; a request for any other is refused.',
    ).default([]),
    kiosk: flag(
      'true: run states, rates and alarms can be read without a login, for a screen on the wall.',
    ).default(false),
    metrics: oneOf(['login', 'open'], 'Whether /metrics asks for a login where there are users.').default(
      'login',
    ),
    sessionHours: decimal(0.1, 720, 'hours', 'A login on the page ends after so long.').default(12),
  },
  'The HTTP server.',
);
