/** `tallypost replay`: recorded messages through the very same core and store. */
import { existsSync } from 'node:fs';
import { formatUtcOrNull } from '../../shared/time.js';
import type { Config } from '../config/config.js';
import type { Plan } from '../core/plan.js';
import type { BadLine } from '../engine/capture-file.js';
import type { EngineStore } from '../engine/engine-store.js';
import type { ReplayFigures } from '../engine/replay.js';
import {
  type Arguments,
  type Command,
  CommandFailure,
  Exit,
  flagOf,
  type Terminal,
  textOf,
} from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';
import { findGateway } from './gateway-file.js';
import { openProgress, type Progress } from './progress.js';

const BAD_LINES_MOST = 1000;
const BAD_LINES_TOLD = 10;

export const replayCommand: Command = {
  name: 'replay',
  summary: 'run recorded messages through the same core and store',
  about:
    'Plays captures into the store in DIR, one after the other, through the same decoding, core and store as live\n' +
    'messages. Time is taken from the recording: from its ticks, or without them from the times of arrival. What the\n' +
    'store holds already goes on from there. At the end it says how fast it was and whether the ledger balances;\n' +
    'exit code 1 if it does not.',
  options: {
    config: CONFIG_OPTION,
    data: DATA_OPTION,
    proof: {
      type: 'string',
      value: 'WORD',
      about: 'prove the ledger at the end; yes unless given',
      oneOf: ['yes', 'no'],
    },
    json: { type: 'boolean', about: 'the summary as one JSON object' },
  },
  positionals: [
    {
      name: 'CAPTURE',
      about: 'captures in the order of their time; packed when named .gz',
      least: 1,
      most: 10_000,
    },
  ],
  examples: [
    'tallypost replay --config config/tarn-hollow.yaml --data data-replayed monday.ndjson.gz tuesday.ndjson.gz',
  ],
  async run(args, terminal) {
    const read = readConfig(args, terminal);
    if (read === null) return Exit.negative;
    const dataDir = textOf(args, 'data');
    const gateway = findGateway(dataDir);
    if (gateway !== null) {
      throw new CommandFailure(
        `A gateway runs on ${dataDir}: process ${gateway.pid}.`,
        'Replay into another --data folder.',
      );
    }
    const missing = args.positionals.find((file) => !existsSync(file));
    if (missing !== undefined) {
      throw new CommandFailure(
        `There is no file ${missing}.`,
        'Name files that the capture command or the simulator wrote.',
      );
    }
    const startedAt = performance.now();
    const figures = await playCaptures(read, dataDir, args.positionals, terminal);
    const seconds = (performance.now() - startedAt) / 1000;
    const balanced = textOf(args, 'proof', 'yes') === 'yes' ? await isBalanced(dataDir) : null;
    await tell(figures, seconds, balanced, args, terminal);
    return balanced === false ? Exit.negative : Exit.ok;
  },
};

async function playCaptures(
  { config, plan }: { config: Config; plan: Plan },
  dataDir: string,
  files: readonly string[],
  terminal: Terminal,
): Promise<ReplayFigures> {
  const { sizeOfFiles } = await import('../engine/capture-file.js');
  const { readCaptures } = await import('../engine/capture-source.js');
  const { CORE } = await import('../engine/engine-core.js');
  const { replay } = await import('../engine/replay.js');
  const { openEngineStore } = await import('../engine/store-adapter.js');
  const total = await sizeOfFiles(files);
  const progress = openProgress(terminal);
  const bad = new BadLines(progress, terminal);
  let position = 0;
  const { minCommitIntervalMs, walBytesMax, retention } = config.storage;
  const store: EngineStore = openEngineStore({
    dataDir,
    plan,
    minCommitIntervalMs,
    storage: { walBytesMax, retention },
  });
  try {
    if (store.setAside !== null)
      terminal.err(`The store was corrupt; it was set aside as ${store.setAside}.\n`);
    const lines = readCaptures({
      files,
      plan,
      badLinesMax: BAD_LINES_MOST,
      onBadLine: (line) => bad.add(line),
      onBytes: (bytes) => void (position = bytes),
    });
    const onProgress = ({ readings }: ReplayFigures): void =>
      progress.show(position, total, `${readings} readings`);
    const figures = await replay({ plan, core: CORE, store, lines, onProgress });
    bad.tellRest();
    return figures;
  } finally {
    progress.end();
    store.close();
  }
}

/** Tells broken lines, the first few of them one by one. */
class BadLines {
  #count = 0;

  constructor(
    private readonly progress: Progress,
    private readonly terminal: Terminal,
  ) {}

  add({ file, line, reason }: BadLine): void {
    this.#count += 1;
    if (this.#count > BAD_LINES_TOLD) return;
    this.progress.end();
    this.terminal.err(`${file}:${line}: left out, ${reason}\n`);
  }

  tellRest(): void {
    if (this.#count > BAD_LINES_TOLD) this.terminal.err(`${this.#count} lines were left out in all\n`);
  }
}

async function isBalanced(dataDir: string): Promise<boolean> {
  const { openReader } = await import('../store/reader.js');
  const { proveSensors } = await import('./ledger-proof.js');
  const reader = openReader(dataDir);
  try {
    for (const ledger of proveSensors(reader, { sensor: null, from: null, to: null }))
      if (!ledger.balanced) return false;
    return true;
  } finally {
    reader.close();
  }
}

async function tell(
  figures: ReplayFigures,
  seconds: number,
  balanced: boolean | null,
  args: Arguments,
  terminal: Terminal,
): Promise<void> {
  const perSecond = Math.round(figures.readings / seconds);
  const { lines, readings, refused } = figures;
  const from = formatUtcOrNull(figures.from);
  const to = formatUtcOrNull(figures.to);
  if (flagOf(args, 'json')) {
    const summary = { lines, readings, refused, from, to, seconds, readings_per_s: perSecond, balanced };
    await terminal.out(`${JSON.stringify(summary)}\n`);
    return;
  }
  const words = {
    true: 'The ledger balances.',
    false: 'The ledger does NOT balance: see "tallypost ledger".',
    null: '',
  };
  await terminal.out(
    `${readings} readings in ${lines} lines, ${from ?? 'no time'} to ${to ?? 'no time'}` +
      `${refused === 0 ? '' : `, ${refused} messages refused (see the quarantine)`}\n` +
      `${seconds.toFixed(1)} s, ${perSecond} readings/s\n${words[`${balanced}`]}${balanced === null ? '' : '\n'}`,
  );
}
