/** `tallypost check`: is this configuration valid, and what would the gateway listen to? */
import { loadConfig } from '../config/load.js';
import { formatProblem } from '../config/problem.js';
import { summariseConfig } from '../config/summary.js';
import { type Command, Exit, flagOf, textOf } from './command.js';

export const checkCommand: Command = {
  name: 'check',
  summary: 'check a configuration and say what it would listen to',
  about:
    'Reads the configuration as "run" would, says what is wrong with file, line and column, and what the\n' +
    'gateway would listen to. Nothing is started. Exit code 1 when it is not valid.',
  options: {
    config: { type: 'string', value: 'FILE', about: 'the configuration', required: true },
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [],
  examples: ['tallypost check --config config/tarn-hollow.yaml'],
  async run(args, terminal) {
    const loaded = loadConfig(textOf(args, 'config'));
    const isJson = flagOf(args, 'json');
    if (!loaded.ok) {
      if (isJson) await terminal.out(`${JSON.stringify({ valid: false, problems: loaded.problems })}\n`);
      else for (const problem of loaded.problems) terminal.err(`${formatProblem(problem)}\n`);
      return Exit.negative;
    }
    for (const warning of loaded.warnings) if (!isJson) terminal.err(`warning: ${formatProblem(warning)}\n`);
    const summary = summariseConfig(loaded.config, loaded.plan);
    await terminal.out(
      isJson ? `${JSON.stringify({ valid: true, warnings: loaded.warnings, summary })}\n` : summary,
    );
    return Exit.ok;
  },
};
