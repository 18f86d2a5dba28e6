/** Modbus and OPC UA after defaults and braces. Passwords stay references here. */
import { readEndpoint, type Endpoint } from './endpoint.js';
import { expandBraces } from './expansion.js';
import type { SecretReference } from './notify.js';
import type { FileContent } from './schema.js';

type FileModbus = NonNullable<FileContent['modbus']>;
type FileOpcua = NonNullable<FileContent['opcua']>;

export interface ModbusConfig extends Pick<
  FileModbus,
  'unitId' | 'wordOrder' | 'positions' | 'clientsMax' | 'idleMs'
> {
  readonly listen: Endpoint;
  /** null: in the order of the file, and kept from then on */
  readonly slots: Readonly<Record<string, number>> | null;
  /** null: from each sensor's interval */
  readonly staleMs: number | null;
}

export interface OpcuaUser {
  readonly name: string;
  readonly password: SecretReference;
  readonly role: 'viewer' | 'operator';
}

export interface OpcuaConfig extends Pick<
  FileOpcua,
  'security' | 'anonymous' | 'sessionsMax' | 'idleMs' | 'rangePerMin' | 'memoryMbMax'
> {
  readonly listen: Endpoint;
  readonly users: readonly OpcuaUser[];
  readonly staleMs: number | null;
}

export function buildModbus(content: FileModbus | undefined): ModbusConfig | null {
  if (content === undefined) return null;
  const { listen, slots, staleMs, unitId, wordOrder, positions, clientsMax, idleMs } = content;
  return {
    ...{ unitId, wordOrder, positions, clientsMax, idleMs },
    listen: readEndpoint(listen),
    slots: slots === undefined ? null : Object.fromEntries(spreadSlots(slots)),
    staleMs: staleMs ?? null,
  };
}

/** Braces take one slot after the other: `pump-{1..3}: 5` is 5, 6 and 7. */
export function spreadSlots(slots: Readonly<Record<string, number>>): [motor: string, slot: number][] {
  return Object.entries(slots).flatMap(([pattern, first]) => {
    const expansion = expandBraces(pattern);
    const motors = expansion.ok ? expansion.texts : [];
    return motors.map((motor, index): [string, number] => [motor, first + index]);
  });
}

export function buildOpcua(content: FileOpcua | undefined): OpcuaConfig | null {
  if (content === undefined) return null;
  const { listen, users, staleMs, security, anonymous, sessionsMax, idleMs, rangePerMin, memoryMbMax } =
    content;
  return {
    ...{ security, anonymous, sessionsMax, idleMs, rangePerMin, memoryMbMax },
    listen: readEndpoint(listen),
    users: (users ?? []).map(({ name, role, passwordFile, passwordEnv }) => ({
      ...{ name, role },
      password: passwordFile === undefined ? { env: passwordEnv ?? '' } : { file: passwordFile },
    })),
    staleMs: staleMs ?? null,
  };
}
