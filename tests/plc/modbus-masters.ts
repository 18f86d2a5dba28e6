/** Two masters that others wrote, each in a process of its own: mbpoll in C and pymodbus in Python. */
import { canRun, tellMissing } from '../support/programs.js';
import { runToEnd, type Finished } from '../support/child.js';

/** The interpreter of the distribution: another one in PATH does not see its packages. */
const PYTHON = '/usr/bin/python3';

export const HAS_MBPOLL = tellMissing(canRun('mbpoll', ['-h']), 'reading registers with mbpoll', 'mbpoll');
export const HAS_PYMODBUS = tellMissing(
  canRun(PYTHON, ['-c', 'import pymodbus']),
  'reading registers with pymodbus',
  'python3-pymodbus',
);

/** mbpoll once; addresses from 0. `more`: such as `-t`, `4:int`. */
export function poll(
  port: number,
  address: number,
  count: number,
  more: readonly string[] = [],
): Promise<Finished> {
  const where = [
    '-m',
    'tcp',
    '-p',
    String(port),
    '-a',
    '1',
    '-0',
    '-r',
    String(address),
    '-c',
    String(count),
  ];
  return runToEnd('mbpoll', [...where, '-1', '-o', '5', ...more, '127.0.0.1']);
}

/** The values that mbpoll printed. */
export function valuesOf({ out }: Finished): number[] {
  return [...out.matchAll(/^\[\d+\]:\s+(\S+)/gm)].map(([, value]) => Number(value));
}

const SCRIPT = `
import json, sys, types
# only for serial lines; the distribution merely recommends it
for name in ['serial', 'serial_asyncio']:
    try:
        __import__(name)
    except ImportError:
        sys.modules[name] = types.SimpleNamespace(create_serial_connection=None, connection_for_url=None)
from pymodbus.client import ModbusTcpClient
from pymodbus.constants import Endian
from pymodbus.payload import BinaryPayloadDecoder
asked = json.loads(sys.argv[1])
client = ModbusTcpClient('127.0.0.1', port=asked['port'], timeout=5)
assert client.connect()
answers = []
for one in asked['requests']:
    if one['do'] == 'write':
        answer = client.write_register(one['address'], 1, slave=1)
    elif one['do'] == 'write-many':
        answer = client.write_registers(one['address'], [1, 2], slave=1)
    elif one['do'] == 'write-coil':
        answer = client.write_coil(one['address'], True, slave=1)
    elif one['do'] == 'input':
        answer = client.read_input_registers(one['address'], one['count'], slave=one.get('unit', 1))
    else:
        answer = client.read_holding_registers(one['address'], one['count'], slave=one.get('unit', 1))
    if answer.isError():
        answers.append({'exception': getattr(answer, 'exception_code', None), 'says': str(answer)})
        continue
    words = {'registers': answer.registers}
    if 'byteorder' in one:
        ends = {'big': Endian.Big, 'little': Endian.Little}
        decoder = BinaryPayloadDecoder.fromRegisters(answer.registers, byteorder=ends[one['byteorder']], wordorder=ends[one['wordorder']])
        words['value'] = decoder.decode_32bit_uint()
    answers.append(words)
client.close()
print(json.dumps(answers))
`;

export interface PyRequest {
  readonly do: 'holding' | 'input' | 'write' | 'write-many' | 'write-coil';
  readonly address: number;
  readonly count?: number;
  readonly unit?: number;
  /** of bytes in a register and of registers in a value: decode 32 bits */
  readonly byteorder?: 'big' | 'little';
  readonly wordorder?: 'big' | 'little';
}

export interface PyAnswer {
  readonly registers?: number[];
  readonly value?: number;
  readonly exception?: number | null;
}

export async function askPymodbus(port: number, requests: readonly PyRequest[]): Promise<PyAnswer[]> {
  const { code, out, err } = await runToEnd(PYTHON, ['-c', SCRIPT, JSON.stringify({ port, requests })]);
  if (code !== 0) throw new Error(`pymodbus ended with ${code}: ${err}`);
  return JSON.parse(out) as PyAnswer[];
}
