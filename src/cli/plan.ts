/** `tallypost plan`: motors ranked for the next outage by evidence; of one motor, what could explain its counts. */
import { type Command, Exit, flagOf, optionalTextOf, textOf } from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';

export const planCommand: Command = {
  name: 'plan',
  summary: 'motors ranked for the next outage by evidence; of one, what could explain it',
  about:
    'Ranks the motors by evidence, each with its reason in one line: damage seen at an inspection, the odd one out of\n' +
    'its group, risen over its own baseline, a remedy that did not help, then the running pulses since the bearing\n' +
    'was fitted. With --motor: its remedies before and after, and an ordered list of what could explain its counts,\n' +
    'what would confirm or refute each, the usual remedies with their traps, and the cautions. May run while the\n' +
    'gateway runs.',
  options: {
    data: DATA_OPTION,
    config: CONFIG_OPTION,
    motor: { type: 'string', value: 'MOTOR', about: 'everything known about this motor' },
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [],
  examples: [
    'tallypost plan --data data --config plant.yaml',
    'tallypost plan --data data --config plant.yaml --motor booster-4',
  ],
  async run(args, terminal) {
    const read = readConfig(args, terminal);
    if (read === null) return Exit.negative;
    const { toFleet } = await import('../api/fleet.js');
    const { toDossierBody, toPlanBody } = await import('../api/advice-maps.js');
    const { openReader } = await import('../store/reader.js');
    const { openDossier, rankFleet } = await import('./query/plan-list.js');
    const { writeDossier, writePlan } = await import('./plan-text.js');
    const { checkMotor } = await import('./sensor-argument.js');
    const motor = optionalTextOf(args, 'motor');
    if (motor !== null) checkMotor(read.plan, motor);
    const fleet = toFleet(read.plan);
    const isJson = flagOf(args, 'json');
    const reader = openReader(textOf(args, 'data'));
    try {
      if (motor === null) {
        const list = rankFleet(reader, fleet);
        await terminal.out(isJson ? `${JSON.stringify(toPlanBody(list))}\n` : writePlan(list));
      } else {
        const dossier = openDossier(reader, fleet, motor);
        await terminal.out(isJson ? `${JSON.stringify(toDossierBody(dossier))}\n` : writeDossier(dossier));
      }
      return Exit.ok;
    } finally {
      reader.close();
    }
  },
};
