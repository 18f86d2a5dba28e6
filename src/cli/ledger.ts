/** `tallypost ledger`: does every counted pulse lie in exactly one class? Proved from the store alone. */
import { formatUtc } from '../../shared/time.js';
import { writeClasses } from '../../shared/write-messages.js';
import { CLASS_NAMES, LEDGER_CLASSES } from '../core/words.js';
import type { SensorLedger } from '../store/ledger.js';
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
import { rangeOf } from './time-argument.js';

export const ledgerCommand: Command = {
  name: 'ledger',
  summary: 'prove that every counted pulse is in exactly one class',
  about:
    'Proves from the store, for every counter of every sensor, that last minus first equals the sum of its increments\n' +
    'over the seven classes, and between any two readings likewise. What nobody can know (restarts, power cuts) is\n' +
    'listed beside it as a range. Exit code 1 when it does not balance. May run while the gateway runs.',
  options: {
    data: DATA_OPTION,
    sensor: { type: 'string', value: 'M/P', about: 'only this sensor' },
    from: { type: 'string', value: 'TIME', about: 'only counters that were read after this time' },
    to: { type: 'string', value: 'TIME', about: 'only counters that began before this time' },
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [],
  examples: ['tallypost ledger --data data', 'tallypost ledger --data data --sensor pump-1/de --json'],
  async run(args, terminal) {
    const { openReader } = await import('../store/reader.js');
    const { proveSensors } = await import('./ledger-proof.js');
    const reader = openReader(textOf(args, 'data'));
    try {
      const sensor = optionalTextOf(args, 'sensor');
      const ledgers = [...proveSensors(reader, { sensor, ...rangeOf(args) })];
      if (sensor !== null && ledgers.length === 0) {
        throw new UsageError(
          `There are no readings of ${sensor} in ${textOf(args, 'data')}.`,
          'Check the name.',
        );
      }
      return await tellLedgers(ledgers, args, terminal);
    } finally {
      reader.close();
    }
  },
};

async function tellLedgers(
  ledgers: readonly SensorLedger[],
  args: Arguments,
  terminal: Terminal,
): Promise<Exit> {
  const balanced = ledgers.every((ledger) => ledger.balanced);
  if (flagOf(args, 'json'))
    await terminal.out(`${JSON.stringify({ balanced, sensors: ledgers.map(toJson) })}\n`);
  else await terminal.out(describeLedgers(ledgers, balanced));
  return balanced ? Exit.ok : Exit.negative;
}

function toJson(ledger: SensorLedger): Record<string, unknown> {
  const { sensor, balanced, counted, classified, pending, pulses, ms, faults } = ledger;
  const unknown = ledger.unknown.map((each) => ({
    ...each,
    from: formatUtc(each.from),
    to: formatUtc(each.to),
  }));
  return {
    sensor,
    balanced,
    counted,
    classified,
    pending,
    classes: writeClasses({ pulses, ms, uncertainMs: 0 }),
    unknown,
    faults,
  };
}

function describeLedgers(ledgers: readonly SensorLedger[], balanced: boolean): string {
  const head = ['sensor', 'counted', ...LEDGER_CLASSES.map((c) => CLASS_NAMES[c]), 'pending', ''];
  const rows = ledgers.map((ledger) => [
    ledger.sensor,
    String(ledger.counted),
    ...LEDGER_CLASSES.map((c) => String(ledger.pulses[c] ?? 0)),
    String(ledger.pending),
    ledger.balanced ? 'balances' : 'DOES NOT BALANCE',
  ]);
  const widths = head.map((_, i) => Math.max(...[head, ...rows].map((row) => (row[i] ?? '').length)));
  const writeRow = (row: readonly string[]): string =>
    row
      .map((cell, i) =>
        i === 0 || i === row.length - 1 ? cell.padEnd(widths[i] ?? 0) : cell.padStart(widths[i] ?? 0),
      )
      .join('  ')
      .trimEnd();
  const unknown = ledgers.flatMap((ledger) =>
    ledger.unknown.map(
      (each) =>
        `  ${ledger.sensor}  ${formatUtc(each.from)} to ${formatUtc(each.to)}: ${each.reason}, ` +
        `${each.least} pulses at least, ${each.most === null ? 'no bound known' : `${each.most} at most`}`,
    ),
  );
  const faults = ledgers.flatMap((ledger) => ledger.faults);
  return [
    ...[head, ...rows].map(writeRow),
    ...(unknown.length === 0 ? [] : ['', 'Nobody can know, in no class:', ...unknown]),
    ...(faults.length === 0 ? [] : ['', 'What does not add up:', ...faults.map((fault) => `  ${fault}`)]),
    '',
    balanced ? 'The ledger balances.' : 'The ledger does NOT balance.',
    '',
  ].join('\n');
}
