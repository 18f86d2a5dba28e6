/** A terminal that remembers what was written to it, and a way to run the program's commands in this process. */
import { alarmsCommand } from '../../src/cli/alarms.js';
import { backupCommand } from '../../src/cli/backup.js';
import { captureCommand } from '../../src/cli/capture.js';
import { baselineCommand } from '../../src/cli/baseline.js';
import { compareCommand } from '../../src/cli/compare.js';
import { planCommand } from '../../src/cli/plan.js';
import { checkCommand } from '../../src/cli/check.js';
import type { Exit, Terminal } from '../../src/cli/command.js';
import { countCommand } from '../../src/cli/count.js';
import { dispatchCommand } from '../../src/cli/dispatch.js';
import { exportCommand } from '../../src/cli/export.js';
import { journalCommand } from '../../src/cli/journal.js';
import { ledgerCommand } from '../../src/cli/ledger.js';
import { noteCommand } from '../../src/cli/note.js';
import { rehearseCommand } from '../../src/cli/rehearse.js';
import { replayCommand } from '../../src/cli/replay.js';
import { restoreCommand } from '../../src/cli/restore.js';
import { runCommand } from '../../src/cli/run.js';
import { schemaCommand } from '../../src/cli/schema.js';

export const COMMANDS = [
  runCommand,
  checkCommand,
  replayCommand,
  ledgerCommand,
  exportCommand,
  journalCommand,
  compareCommand,
  baselineCommand,
  planCommand,
  countCommand,
  noteCommand,
  alarmsCommand,
  rehearseCommand,
  captureCommand,
  backupCommand,
  restoreCommand,
  schemaCommand,
];

export interface Recorder extends Terminal {
  readonly text: { out: string; err: string };
}

export function recordTerminal(): Recorder {
  const text = { out: '', err: '' };
  return {
    text,
    isErrTty: false,
    out: (piece) => {
      text.out += piece;
      return Promise.resolve();
    },
    err: (piece) => {
      text.err += piece;
    },
  };
}

/** Runs `tallypost ARGV` in this process. */
export async function runTallypost(...argv: string[]): Promise<{ code: Exit; out: string; err: string }> {
  const terminal = recordTerminal();
  const code = await dispatchCommand(argv, COMMANDS, terminal, '1.2.3');
  return { code, ...terminal.text };
}
