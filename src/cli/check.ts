/** `tallypost check`: is this configuration valid, and what would the gateway listen to? */
import type { Config } from '../config/config.js';
import { formatEndpoint } from '../config/endpoint.js';
import { loadConfig } from '../config/parse.js';
import { formatProblem } from '../config/problem.js';
import { hashRevision } from '../config/revision.js';
import { countCommitsPerDay, summariseConfig } from '../config/summary.js';
import { findMissingPackage, OPCUA_PACKAGE } from '../plc/opcua-package.js';
import { type Command, Exit, flagOf, textOf } from './command.js';
import { TERMINAL_COLUMNS, wrapText } from './text-columns.js';

const HANG = 4;

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
    if (isJson) {
      const answer = { valid: true, warnings: loaded.warnings, ...describeListening(loaded.config) };
      await terminal.out(`${JSON.stringify(answer)}\n`);
      return Exit.ok;
    }
    for (const warning of loaded.warnings) terminal.err(`warning: ${formatProblem(warning)}\n`);
    const missing = loaded.config.opcua === null ? null : findMissingPackage();
    if (missing !== null) terminal.err(`warning: ${missing}\n`);
    await terminal.out(summariseConfig(loaded.config).split('\n').map(fitLine).join(''));
    return Exit.ok;
  },
};

/** A line too long for a terminal goes on below itself, further in. */
function fitLine(line: string): string {
  if (line.length <= TERMINAL_COLUMNS) return `${line}\n`;
  const indent = line.length - line.trimStart().length;
  const [first = '', ...more] = wrapText(line, TERMINAL_COLUMNS - indent - HANG);
  return [' '.repeat(indent) + first, ...more.map((rest) => ' '.repeat(indent + HANG) + rest)]
    .map((each) => `${each}\n`)
    .join('');
}

/** The summary for machines: addresses, topics and what it costs the disk. */
function describeListening(config: Config): Record<string, unknown> {
  return {
    site: config.site,
    time_zone: config.timeZone,
    revision: hashRevision(config),
    mqtt: formatEndpoint(config.mqtt.listen),
    http: formatEndpoint(config.http.listen),
    modbus: config.modbus === null ? null : formatEndpoint(config.modbus.listen),
    opcua: config.opcua === null ? null : formatEndpoint(config.opcua.listen),
    missing_packages: config.opcua !== null && findMissingPackage() !== null ? [OPCUA_PACKAGE] : [],
    logins: config.mqtt.users === null ? null : config.mqtt.users.map((user) => user.name),
    commits_per_day: countCommitsPerDay(config),
    motors: config.motors.map((motor) => ({
      motor: motor.key,
      zone: motor.zone,
      duty_group: motor.dutyGroup,
      topics: [
        ...motor.positions.map(({ position }) => `${config.site}/in/${motor.key}/${position}/reading`),
        `${config.site}/in/${motor.key}/drive/state`,
      ],
      alarms: [...motor.rateAlarms, ...motor.conditionAlarms, ...motor.deviationAlarms].map(
        (alarm) => alarm.kind,
      ),
    })),
  };
}
