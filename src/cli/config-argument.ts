/** The options that several commands share: the configuration and where to listen. */
import type { Config } from '../config/config.js';
import { type Endpoint, parseEndpoint } from '../config/endpoint.js';
import { loadConfig } from '../config/parse.js';
import { formatProblem } from '../config/problem.js';
import type { Plan } from '../core/plan.js';
import {
  type Arguments,
  type OptionSpec,
  optionalTextOf,
  type Terminal,
  textOf,
  UsageError,
} from './command.js';

export const CONFIG_OPTION: OptionSpec = {
  type: 'string',
  value: 'FILE',
  about: 'the configuration',
  required: true,
};
export const DATA_OPTION: OptionSpec = {
  type: 'string',
  value: 'DIR',
  about: 'the data directory',
  required: true,
};
export const MQTT_OPTION: OptionSpec = {
  type: 'string',
  value: 'HOST:PORT',
  about: 'where to listen for MQTT, instead of what the configuration says; port 0: a free one',
};
export const HTTP_OPTION: OptionSpec = {
  type: 'string',
  value: 'HOST:PORT',
  about: 'where to listen for HTTP, instead of what the configuration says; port 0: a free one',
};

/** The configuration of `--config`; null: it is not valid, and every problem has been told. */
export function readConfig(args: Arguments, terminal: Terminal): { config: Config; plan: Plan } | null {
  const loaded = loadConfig(textOf(args, 'config'));
  if (loaded.ok) {
    for (const warning of loaded.warnings) terminal.err(`warning: ${formatProblem(warning)}\n`);
    return { config: loaded.config, plan: loaded.plan };
  }
  for (const problem of loaded.problems) terminal.err(`${formatProblem(problem)}\n`);
  return null;
}

/** An address option; null: not given. Throws `UsageError`. */
export function endpointOf(args: Arguments, name: string): Endpoint | null {
  const text = optionalTextOf(args, name);
  if (text === null) return null;
  const endpoint = parseEndpoint(text);
  if (endpoint === null) {
    throw new UsageError(
      `--${name} "${text}" is no address.`,
      'Write HOST:PORT, such as 127.0.0.1:1883 or [::1]:1883.',
    );
  }
  return endpoint;
}
