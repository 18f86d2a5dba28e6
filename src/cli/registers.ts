/** `tallypost registers`: the Modbus register map of a configuration, for whoever programs the control system. */
import type { ModbusConfig } from '../config/plc.js';
import { toPlant } from '../gateway-plc.js';
import { readKeptSlots } from '../plc/kept-slots.js';
import { layOutMap, listRegisters, type RegisterMap } from '../plc/register-map.js';
import { assignSlots } from '../plc/slots.js';
import { type Command, CommandFailure, Exit, optionalTextOf, textOf } from './command.js';
import { CONFIG_OPTION, readConfig } from './config-argument.js';
import { writeRegisterCsv, writeRegisterJson, writeRegisterText, writeSlots } from './registers-text.js';

export const registersCommand: Command = {
  name: 'registers',
  summary: 'print the Modbus register map of a configuration',
  about:
    'Prints what stands in which register of the Modbus TCP server, with addresses counted from 0 and from 1, as text,\n' +
    'CSV or JSON. "slots" prints the section modbus.slots that fixes all addresses as they are. Where the configuration\n' +
    'has no slots, a gateway that has run before keeps its own in the data directory: name it with --data then.',
  options: {
    config: CONFIG_OPTION,
    data: {
      type: 'string',
      value: 'DIR',
      about: 'the data directory of the gateway, for the slots that it keeps',
    },
    format: {
      type: 'string',
      value: 'FORMAT',
      about: 'text unless given',
      oneOf: ['text', 'csv', 'json', 'slots'],
    },
  },
  positionals: [],
  examples: [
    'tallypost registers --config config/tarn-hollow.yaml',
    'tallypost registers --config config/tarn-hollow.yaml --format csv > registers.csv',
  ],
  async run(args, terminal) {
    const read = readConfig(args, terminal);
    if (read === null) return Exit.negative;
    const { config, plan } = read;
    if (config.modbus === null) {
      throw new CommandFailure(
        `${config.file} has no section modbus, so there is no register map.`,
        'Add "modbus: {}" for one on 127.0.0.1:1502; docs/modbus.md says what can stand in it.',
      );
    }
    const map = layOut(config.modbus, toPlant(plan, config.modbus.staleMs), optionalTextOf(args, 'data'));
    const about = { site: plan.site, revision: plan.revision, wordOrder: config.modbus.wordOrder };
    const write = {
      text: () => writeRegisterText(map, listRegisters(map), about),
      csv: () => writeRegisterCsv(listRegisters(map)),
      json: () => writeRegisterJson(map, listRegisters(map), about),
      slots: () => writeSlots(map),
    }[textOf(args, 'format', 'text') as 'text' | 'csv' | 'json' | 'slots'];
    await terminal.out(write());
    return Exit.ok;
  },
};

function layOut(
  modbus: ModbusConfig,
  plant: ReturnType<typeof toPlant>,
  dataDir: string | null,
): RegisterMap {
  const given = modbus.slots === null ? null : new Map(Object.entries(modbus.slots));
  const kept = dataDir === null ? new Map<string, number>() : readKeptSlots(dataDir);
  const motors = plant.motors.map(({ key }) => key);
  const { slots } = assignSlots(motors, given, kept, modbus.positions.length);
  return layOutMap(plant, slots, modbus.positions);
}
