/** `tallypost restore`: a backup becomes the store of a data directory. */
import { type Command, CommandFailure, Exit, flagOf, textOf } from './command.js';
import { DATA_OPTION } from './config-argument.js';
import { findGateway } from './gateway-file.js';

export const restoreCommand: Command = {
  name: 'restore',
  summary: 'put a backup in the place of a store',
  about:
    'Checks a backup and makes it the store in DIR. A store that is there already is set aside under a name with the\n' +
    'time, never overwritten. Refuses while a gateway runs on DIR.',
  options: {
    data: DATA_OPTION,
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [{ name: 'BACKUP', about: 'a file that "backup" wrote', least: 1, most: 1 }],
  examples: ['tallypost restore --data data /mnt/backup/tallypost-2026-03-02.db'],
  async run(args, terminal) {
    const dataDir = textOf(args, 'data');
    const backup = args.positionals[0] ?? '';
    const gateway = findGateway(dataDir);
    if (gateway !== null) {
      throw new CommandFailure(`A gateway runs on ${dataDir}: process ${gateway.pid}.`, 'Stop it first.');
    }
    const { restoreStore } = await import('./restore-store.js');
    const { setAside } = restoreStore(backup, dataDir);
    const aside = setAside === null ? '' : `The store that was there is now ${setAside}.\n`;
    const answer = { data: dataDir, backup, set_aside: setAside };
    await terminal.out(
      flagOf(args, 'json') ? `${JSON.stringify(answer)}\n` : `${dataDir}: restored from ${backup}.\n${aside}`,
    );
    return Exit.ok;
  },
};
