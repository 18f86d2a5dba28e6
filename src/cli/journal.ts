/** `tallypost journal`: is the journal as it was written, and the journal itself for whoever keeps it elsewhere. */
import { JOURNAL_CHANGES, JOURNAL_KINDS } from '../../shared/alarm-terms.js';
import {
  type Arguments,
  type Command,
  Exit,
  flagOf,
  optionalTextOf,
  type Terminal,
  textOf,
  UsageError,
} from './command.js';
import { DATA_OPTION } from './config-argument.js';
import type { Format } from './table-text.js';
import { rangeOf } from './time-argument.js';

const DIGEST = /^[0-9a-f]{64}$/i;

/** Which options go with which action, so that one that has no effect is refused instead of ignored. */
const WITH: Readonly<Record<string, readonly string[]>> = {
  verify: ['data', 'expect', 'json'],
  export: ['data', 'from', 'to', 'subject', 'kind', 'what', 'format'],
};

export const journalCommand: Command = {
  name: 'journal',
  summary: 'prove that the journal is as it was written, or export it',
  about:
    'verify: every entry carries a digest over the one before it and itself. Reads them all and names the first that\n' +
    'was altered, removed, inserted or moved; exit code 1 then. It prints the digest of the last entry: note it\n' +
    'somewhere else. Whoever can write to the file could also cut off its end, or build the chain anew; only a digest\n' +
    'noted elsewhere and given as --expect shows that.\n' +
    'export: the entries in the order in which they were written, with number and digest; columns in docs/journal.md.\n' +
    'Both may run while the gateway runs.',
  options: {
    data: DATA_OPTION,
    expect: {
      type: 'string',
      value: 'DIGEST',
      about: 'verify: a digest that was noted earlier; 64 hexadecimal digits',
    },
    json: { type: 'boolean', about: 'verify: the answer as one JSON object' },
    from: { type: 'string', value: 'TIME', about: 'export: earliest time of occurrence, included' },
    to: { type: 'string', value: 'TIME', about: 'export: latest time of occurrence, not included' },
    subject: { type: 'string', value: 'ID', about: 'export: only of this alarm, motor or part' },
    kind: { type: 'string', value: 'KIND', about: 'export: only of this kind', oneOf: JOURNAL_KINDS },
    what: {
      type: 'string',
      value: 'CHANGE',
      about: 'export: only this change, such as raised or shelved',
      oneOf: JOURNAL_CHANGES.filter((change) => change !== ''),
    },
    format: {
      type: 'string',
      value: 'FORMAT',
      about: 'export: ndjson unless given',
      oneOf: ['ndjson', 'csv'],
    },
  },
  positionals: [
    { name: 'ACTION', about: 'verify or export', least: 1, most: 1, oneOf: ['verify', 'export'] },
  ],
  examples: [
    'tallypost journal verify --data data',
    'tallypost journal verify --data data --expect 5f0c… --json',
    'tallypost journal export --data data --format csv --from 2026-03-02T00:00:00Z > journal.csv',
  ],
  async run(args, terminal) {
    const action = args.positionals[0] ?? '';
    for (const name of Object.keys(args.options))
      if (WITH[action]?.includes(name) !== true)
        throw new UsageError(`--${name} has no meaning for "journal ${action}".`);
    return action === 'verify' ? verify(args, terminal) : exportJournal(args, terminal);
  },
};

async function verify(args: Arguments, terminal: Terminal): Promise<Exit> {
  const expected = optionalTextOf(args, 'expect');
  if (expected !== null && !DIGEST.test(expected))
    throw new UsageError(
      `--expect "${expected}" is no digest.`,
      'It has 64 hexadecimal digits, as "journal verify" prints it.',
    );
  const { openReader } = await import('../store/reader.js');
  const { verifyJournal } = await import('../store/verify-journal.js');
  const { toJournalProofBody } = await import('../api/journal-bodies.js');
  const { describeProof } = await import('./journal-text.js');
  const reader = openReader(textOf(args, 'data'));
  try {
    const proof = verifyJournal(reader, expected);
    await terminal.out(
      flagOf(args, 'json') ? `${JSON.stringify(toJournalProofBody(proof))}\n` : describeProof(proof),
    );
    return proof.fault === null ? Exit.ok : Exit.negative;
  } finally {
    reader.close();
  }
}

async function exportJournal(args: Arguments, terminal: Terminal): Promise<Exit> {
  const { openReader } = await import('../store/reader.js');
  const { CHAINED_JOURNAL_COLUMNS } = await import('./export-columns.js');
  const { pageAll } = await import('./export-pages.js');
  const { writeHeader, writeRows } = await import('./table-text.js');
  const format = textOf(args, 'format', 'ndjson') as Format;
  const query = {
    ...rangeOf(args),
    subject: optionalTextOf(args, 'subject'),
    kind: optionalTextOf(args, 'kind'),
    what: optionalTextOf(args, 'what'),
  };
  const reader = openReader(textOf(args, 'data'));
  try {
    await terminal.out(writeHeader(CHAINED_JOURNAL_COLUMNS, format));
    for (const rows of pageAll((place) => reader.journalRows({ ...query, ...place })))
      await terminal.out(writeRows(rows, CHAINED_JOURNAL_COLUMNS, format));
    return Exit.ok;
  } finally {
    reader.close();
  }
}
