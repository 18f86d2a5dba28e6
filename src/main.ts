#!/usr/bin/env node
/** The program: arguments in, exit code out. What each command does stands in `cli/`. */
import { alarmsCommand } from './cli/alarms.js';
import { backupCommand } from './cli/backup.js';
import { captureCommand } from './cli/capture.js';
import { baselineCommand } from './cli/baseline.js';
import { compareCommand } from './cli/compare.js';
import { planCommand } from './cli/plan.js';
import { checkCommand } from './cli/check.js';
import { Exit } from './cli/command.js';
import { countCommand } from './cli/count.js';
import { dispatchCommand } from './cli/dispatch.js';
import { exportCommand } from './cli/export.js';
import { journalCommand } from './cli/journal.js';
import { ledgerCommand } from './cli/ledger.js';
import { noteCommand } from './cli/note.js';
import { notifyCommand } from './cli/notify.js';
import { opcuaCommand } from './cli/opcua.js';
import { readVersion } from './cli/version.js';
import { registersCommand } from './cli/registers.js';
import { rehearseCommand } from './cli/rehearse.js';
import { replayCommand } from './cli/replay.js';
import { restoreCommand } from './cli/restore.js';
import { runCommand } from './cli/run.js';
import { schemaCommand } from './cli/schema.js';
import { sinksCommand } from './cli/sinks.js';
import { openTerminal } from './cli/terminal.js';

const commands = [
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
  registersCommand,
  opcuaCommand,
  notifyCommand,
  sinksCommand,
  captureCommand,
  backupCommand,
  restoreCommand,
  schemaCommand,
];

const code = await dispatchCommand(process.argv.slice(2), commands, openTerminal(), readVersion());
process.exitCode = code;
// After a failure something half started may still hold the process open; nothing it holds is worth waiting for.
if (code === Exit.failure) process.exit();
