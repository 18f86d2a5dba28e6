/** `tallypost opcua certificates`: which clients of the OPC UA server are let in. */
import { hostname } from 'node:os';
import {
  certificateFolder,
  listCertificates,
  moveCertificate,
  type ClientCertificate,
} from '../plc/opcua-certificates.js';
import { type Arguments, type Command, CommandFailure, Exit, flagOf, textOf, UsageError } from './command.js';
import { DATA_OPTION } from './config-argument.js';
import { writeColumns } from './text-columns.js';

const THUMBPRINT_LEAST = 8;

export const opcuaCommand: Command = {
  name: 'opcua',
  summary: 'accept or reject the certificates of OPC UA clients',
  about:
    'A client that signs or encrypts shows a certificate. One that the server does not know is turned away and kept\n' +
    'under "rejected". "certificates list" shows all with their thumbprints, "certificates accept THUMBPRINT" lets one\n' +
    'in, "certificates reject THUMBPRINT" turns it away again. Compare the thumbprint with the one that the client\n' +
    'shows. The running server follows within seconds; sessions that are open end with their connection.',
  options: {
    data: DATA_OPTION,
    json: { type: 'boolean', about: 'the list as one JSON array' },
  },
  positionals: [
    { name: 'SUBJECT', about: 'what it is about', least: 1, most: 1, oneOf: ['certificates'] },
    { name: 'ACTION', about: 'what to do', least: 1, most: 1, oneOf: ['list', 'accept', 'reject'] },
    {
      name: 'THUMBPRINT',
      about: `of the certificate, at least its first ${THUMBPRINT_LEAST} digits`,
      least: 0,
      most: 1,
    },
  ],
  examples: [
    'tallypost opcua certificates list --data data',
    'tallypost opcua certificates accept 3f09c2a1 --data data',
  ],
  async run(args, terminal) {
    const dataDir = textOf(args, 'data');
    const [, action = 'list', thumbprint] = args.positionals;
    if (action === 'list') {
      if (thumbprint !== undefined) throw new UsageError('"certificates list" takes no thumbprint.');
      await terminal.out(describeAll(dataDir, args));
      return Exit.ok;
    }
    if (thumbprint === undefined)
      throw new UsageError(`THUMBPRINT is missing: of the certificate to ${action}.`, listHint(dataDir));
    const found = findOne(dataDir, thumbprint);
    const to = action === 'accept' ? 'accepted' : 'rejected';
    if (found.state === to) {
      await terminal.out(`${found.thumbprint} is ${to} already.\n`);
      return Exit.ok;
    }
    moveCertificate(dataDir, found, to);
    await terminal.out(`${found.thumbprint} is ${to}: ${found.application || found.subject}\n`);
    return Exit.ok;
  },
};

function listHint(dataDir: string): string {
  return `"tallypost opcua certificates list --data ${dataDir}" shows them all.`;
}

function findOne(dataDir: string, given: string): ClientCertificate {
  const wanted = given.toLowerCase().replaceAll(':', '');
  if (!/^[0-9a-f]+$/.test(wanted) || wanted.length < THUMBPRINT_LEAST)
    throw new UsageError(`"${given}" is no thumbprint: at least ${THUMBPRINT_LEAST} hex digits.`);
  const found = listCertificates(dataDir).filter(
    ({ state, thumbprint }) => state !== 'own' && thumbprint.startsWith(wanted),
  );
  const [first] = found;
  if (first === undefined)
    throw new CommandFailure(`No certificate of a client begins with ${wanted}.`, listHint(dataDir));
  if (new Set(found.map(({ thumbprint }) => thumbprint)).size > 1)
    throw new CommandFailure(
      `${found.length} certificates begin with ${wanted}.`,
      'Give more digits of the thumbprint.',
    );
  return first;
}

function describeAll(dataDir: string, args: Arguments): string {
  const all = listCertificates(dataDir);
  if (flagOf(args, 'json')) return `${JSON.stringify(all)}\n`;
  if (all.length === 0)
    return `No certificates in ${certificateFolder(dataDir)} on ${hostname()}: the server makes its own when it first starts, and keeps those of clients that asked.\n`;
  return writeColumns(
    ['state', 'thumbprint', 'valid to', 'application'],
    all.map((one) => [one.state, one.thumbprint, one.validTo, one.application || one.subject]),
  );
}
