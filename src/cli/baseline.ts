/** `tallypost baseline`: what each sensor's own yardstick is, or what it still lacks. */
import { type Command, Exit, flagOf, optionalTextOf, textOf } from './command.js';
import { CONFIG_OPTION, DATA_OPTION, readConfig } from './config-argument.js';

export const baselineCommand: Command = {
  name: 'baseline',
  summary: "each sensor's own yardstick, or what it still lacks",
  about:
    'Shows the baseline of each sensor, condition bin by condition bin: learning (and what it still needs), learnt,\n' +
    'or stale. A learning period that looks unsteady says so instead of becoming the yardstick. They are the very\n' +
    'yardsticks that the alarms use. May run while the gateway runs.',
  options: {
    data: DATA_OPTION,
    config: CONFIG_OPTION,
    sensor: { type: 'string', value: 'M/P', about: 'only this sensor' },
    json: { type: 'boolean', about: 'the answer as one JSON object' },
  },
  positionals: [],
  examples: ['tallypost baseline --data data --config plant.yaml'],
  async run(args, terminal) {
    const read = readConfig(args, terminal);
    if (read === null) return Exit.negative;
    const { toBaselineBody } = await import('../api/advice-maps.js');
    const { openReader } = await import('../store/reader.js');
    const { baselineOf } = await import('./query/baselines.js');
    const { writeBaselines } = await import('./advice-text.js');
    const { checkSensor } = await import('./sensor-argument.js');
    const sensor = optionalTextOf(args, 'sensor');
    if (sensor !== null) checkSensor(read.plan, sensor);
    const reader = openReader(textOf(args, 'data'));
    try {
      const sensors = sensor === null ? [...read.plan.sensors.keys()] : [sensor];
      const baselines = sensors.map((each) => baselineOf(reader, each));
      const text = flagOf(args, 'json')
        ? `${JSON.stringify({ baselines: baselines.map(toBaselineBody) })}\n`
        : writeBaselines(baselines);
      await terminal.out(text);
      return Exit.ok;
    } finally {
      reader.close();
    }
  },
};
