/**
 * The address space: the plant as nodes, each with a string id that follows from the names of the configuration and
 * nothing else, so that what an HMI has bound stays bound. Values are written when they or their quality change.
 */
import type { Namespace, UAObject, UAVariable } from 'node-opcua-address-space';
import { ALARM_STATES } from '../../shared/alarm-terms.js';
import type { OpcuaParts } from './opcua-package.js';
import type { OpcuaSettings } from './opcua-settings.js';
import { tellAlarmState, tellHealth, tellRate, tellRunState, type ToldValue } from './opcua-values.js';
import type { Picture, SensorView } from './picture.js';
import type { PlantMotor, PlantSensor } from './plant.js';
import { STATUS_NUMBERS } from './register-fields.js';
import { stampValue, type StampedValue } from './source-time.js';

/** Reciprocal minute. Source: UNECE Recommendation 20, code C94, from memory; id as OPC 10000-8 makes it of the code. */
const PER_MINUTE_CODE = 'C94';

export const RUN_STATE_WORDS = ['unknown', 'stopped', 'starting', 'running', 'stopping', 'fault', 'assumed'];
export const HEALTH_WORDS = [
  'normal',
  'failure',
  'function check',
  'out of specification',
  'maintenance required',
];
const STATUS_WORDS = ['ok', 'nothing can be stored', 'the gateway says nothing'];

export function namespaceOf(site: string): string {
  return `urn:tallypost:${site}`;
}

interface Bound {
  readonly variable: UAVariable;
  readonly isWhole: boolean;
  tell(now: number): ToldValue;
  /** null: nothing yet */
  last: StampedValue | null;
}

export class OpcuaSpace {
  readonly #parts: OpcuaParts;
  readonly #space: Namespace;
  readonly #settings: OpcuaSettings;
  readonly #picture: Picture;
  readonly #bound: Bound[] = [];
  readonly #objects = new Map<string, UAObject>();
  #revision: UAVariable | null = null;
  #shownRevision = '';
  /** variables of trailing rates by sensor */
  readonly rates = new Map<string, UAVariable>();
  /** everything hangs below it */
  readonly root: UAObject;

  constructor(parts: OpcuaParts, space: Namespace, settings: OpcuaSettings, picture: Picture) {
    this.#parts = parts;
    this.#space = space;
    this.#settings = settings;
    this.#picture = picture;
    const { objects } = space.addressSpace.rootFolder;
    this.root = this.#addObject('plant', settings.plant.site, { organizedBy: objects });
    this.#addGateway();
    for (const motor of settings.plant.motors) this.#addMotor(motor);
    for (const sensor of settings.plant.sensors) this.#addSensor(sensor);
  }

  /** A motor, a sensor or, for alarms of neither, the plant. */
  objectOf(key: string): UAObject {
    return this.#objects.get(key) ?? this.root;
  }

  /** Writes what changed, also by mere age. */
  refresh(now: number): void {
    this.#showRevision(this.#picture.feed.revision);
    for (const bound of this.#bound) {
      const stamped = stampValue(bound.last, bound.tell(now), now);
      if (stamped === null) continue;
      // before the first beat nothing is known, and the time of that must not stand before those of events
      const isBefore = this.#picture.feed.beatAt === null;
      bound.last = isBefore ? { ...stamped, at: -Infinity } : stamped;
      this.#write(bound, stamped);
    }
  }

  #showRevision(value: string): void {
    if (value === this.#shownRevision) return;
    this.#shownRevision = value;
    this.#revision?.setValueFromSource({ dataType: this.#parts.variant.DataType.String, value });
  }

  #write({ variable, isWhole }: Bound, { value, status, at }: StampedValue): void {
    const { DataType } = this.#parts.variant;
    const dataType = value === null ? DataType.Null : isWhole ? DataType.UInt32 : DataType.Double;
    variable.setValueFromSource({ dataType, value }, this.#parts.status.StatusCodes[status], new Date(at));
  }

  #addObject(id: string, name: string, where: { organizedBy?: UAObject; componentOf?: UAObject }): UAObject {
    const { server } = this.#space.addressSpace.rootFolder.objects;
    return this.#space.addObject({
      ...{ nodeId: `s=${id}`, browseName: name, displayName: name, eventNotifier: 1 },
      // events of a sensor are heard at its motor, at the plant and at the server
      eventSourceOf: where.componentOf ?? server,
      ...where,
    });
  }

  #addMotor(motor: PlantMotor): void {
    const object = this.#addObject(motor.key, motor.key, { componentOf: this.root });
    this.#objects.set(motor.key, object);
    this.#addWords(object, `${motor.key}/run-state`, RUN_STATE_WORDS, 'Run state of the motor', (now) =>
      tellRunState(this.#picture, motor, now),
    );
    this.#addAlarmState(object, motor.key, { motor: motor.key });
  }

  #addSensor(sensor: PlantSensor): void {
    const object = this.#addObject(sensor.key, sensor.position, { componentOf: this.objectOf(sensor.motor) });
    this.#objects.set(sensor.key, object);
    const view = (now: number): SensorView => this.#picture.viewSensor(sensor, now);
    const addRate = (name: string, about: string, pick: (seen: SensorView) => number | null): UAVariable =>
      this.#addAnalog(object, `${sensor.key}/${name}`, about, (now) =>
        tellRate(view(now), sensor, pick, now),
      );
    const text = 'Discharges per minute of running, over the last ten minutes of running';
    this.rates.set(
      sensor.key,
      addRate('rate', text, (seen) => seen.ratePerMin),
    );
    addRate('rate-lower', 'Lower limit of the rate, 95 %', (seen) => seen.lowerPerMin);
    addRate('rate-upper', 'Upper limit of the rate, 95 %', (seen) => seen.upperPerMin);
    const health = 'Health of the sensor, in the words of NAMUR NE 107';
    this.#addWords(object, `${sensor.key}/health`, HEALTH_WORDS, health, (now) =>
      tellHealth(view(now), sensor, now),
    );
    this.#addAlarmState(object, sensor.key, { sensor: sensor.key });
  }

  #addAlarmState(object: UAObject, key: string, of: { sensor: string } | { motor: string }): void {
    const text =
      'The most urgent alarm. For information only: never an interlock, a trip or a protection input';
    this.#addWords(object, `${key}/alarm-state`, [...ALARM_STATES], text, (now) =>
      tellAlarmState(this.#picture, of, now),
    );
  }

  #addGateway(): void {
    const gateway = this.#space.addObject({
      ...{ nodeId: 's=gateway', browseName: 'gateway', componentOf: this.root },
    });
    const { String: text, UInt32 } = this.#parts.variant.DataType;
    const addFixed = (name: string, description: string, dataType: number, value: unknown): UAVariable =>
      this.#space.addVariable({
        ...{ nodeId: `s=gateway/${name}`, browseName: name, componentOf: gateway, description, dataType },
        ...{ minimumSamplingInterval: 1_000, value: { dataType, value } },
      });
    this.#revision = addFixed('configuration', 'Revision of the configuration', text, '');
    addFixed('version', 'Version of the program', text, this.#settings.version);
    addFixed('layout', 'Version of this layout of nodes', UInt32, 1);
    this.#addWords(gateway, 'gateway/status', STATUS_WORDS, 'Whether what is shown goes on', (now) => ({
      value: this.#judgeStatus(now),
      status: 'Good',
      at: this.#picture.feed.beatAt,
    }));
  }

  #judgeStatus(now: number): number {
    if (this.#picture.isFed(now)) return STATUS_NUMBERS.ok;
    const { beatAt, isLoaded, isReady } = this.#picture.feed;
    const isHeard = beatAt !== null && isLoaded && !isReady;
    return isHeard ? STATUS_NUMBERS.notReady : STATUS_NUMBERS.noFeed;
  }

  #addAnalog(
    parent: UAObject,
    id: string,
    description: string,
    tell: (now: number) => ToldValue,
  ): UAVariable {
    const { DataType } = this.#parts.variant;
    const type = this.#space.addressSpace.findVariableType('AnalogUnitRangeType')!;
    const variable = type.instantiate({
      ...{
        nodeId: `ns=${this.#space.index};s=${id}`,
        browseName: { name: nameOf(id), namespaceIndex: this.#space.index },
      },
      ...{ namespace: this.#space, componentOf: parent, description, dataType: DataType.Double },
      minimumSamplingInterval: 1_000,
    });
    const setProperty = (name: string, value: unknown): void => {
      const property = variable.getPropertyByName(name);
      property?.setValueFromSource({ dataType: DataType.ExtensionObject, value });
    };
    setProperty('EURange', new this.#parts.types.Range({ low: 0, high: this.#settings.rangePerMin }));
    const text = 'reciprocal minute: discharges per minute of running';
    setProperty('EngineeringUnits', this.#parts.access.makeEUInformation(PER_MINUTE_CODE, '1/min', text));
    this.#bound.push({ variable, isWhole: false, tell, last: null });
    return variable;
  }

  #addWords(
    parent: UAObject,
    id: string,
    words: readonly string[],
    description: string,
    tell: (now: number) => ToldValue,
  ): void {
    const variable = this.#space.addMultiStateDiscrete({
      ...{ nodeId: `s=${id}`, browseName: nameOf(id), componentOf: parent, description },
      ...{ enumStrings: [...words], value: 0, minimumSamplingInterval: 1_000 },
    });
    this.#bound.push({ variable, isWhole: true, tell, last: null });
  }
}

function nameOf(id: string): string {
  return id.slice(id.lastIndexOf('/') + 1);
}
