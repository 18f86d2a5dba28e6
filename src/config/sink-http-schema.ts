/** A sink of the kind `http`: batches of CloudEvents. */
import { flag, mapping, wholeNumber } from './leaves.js';
import { addressOf, pemKeys, secretEnv, secretFile, sinkKeys, sinkLogin } from './sink-common-schema.js';

export const httpSink = mapping(
  {
    ...sinkKeys('http'),
    url: addressOf(
      ['https:', 'http:'],
      'https://historian.tarn-hollow.example/events',
      'Where batches are posted: https:// or, in the clear, http://.',
    ),
    batchMax: wholeNumber(1, 10_000, 'records', 'Most records of one request.').default(500),
    gzip: flag('Compress the body.').default(true),
    secretFile: secretFile('the secret that signs each request'),
    secretEnv: secretEnv('the secret that signs each request'),
    tokenFile: secretFile('a bearer token'),
    tokenEnv: secretEnv('a bearer token'),
    user: sinkLogin,
    passwordFile: secretFile('the password of that login'),
    passwordEnv: secretEnv('the password of that login'),
    ...pemKeys,
  },
  'A receiver over HTTP: batches of CloudEvents 1.0 in JSON.',
);
