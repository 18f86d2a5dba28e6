/** `tallypost schema`: the JSON Schema of the configuration file, for editors. */
import { configJsonSchema } from '../config/json-schema.js';
import { type Command, Exit } from './command.js';

export const schemaCommand: Command = {
  name: 'schema',
  summary: 'write the JSON Schema of the configuration, for editors',
  about:
    'Writes the JSON Schema of the configuration file to standard output. An editor that knows YAML schemas then\n' +
    'completes keys and marks mistakes; put "# yaml-language-server: $schema=FILE" in the first line.',
  options: {},
  positionals: [],
  examples: ['tallypost schema > config/tallypost.schema.json'],
  async run(_args, terminal) {
    await terminal.out(`${JSON.stringify(configJsonSchema(), null, 2)}\n`);
    return Exit.ok;
  },
};
