/**
 * The AsyncAPI document of all topics, written from the point of view of the gateway: it receives what comes from the
 * field and sends what goes to everyone.
 * Source: AsyncAPI Specification 3.0.0; MQTT bindings 0.2.0.
 */
import { CATALOGUE, type CatalogueEntry } from './catalogue.js';
import { payloadSchema } from './json-schema.js';
import { NAME_RULE, RESERVED_NAMES } from './names.js';
import { PERIODS } from './topics.js';

const BINDING = '0.2.0';

/** `version` is that of the program. */
export function asyncApiDocument(version: string): Record<string, unknown> {
  return {
    asyncapi: '3.0.0',
    id: 'urn:tallypost:gateway',
    info: {
      title: 'Tallypost',
      version,
      description: [
        'Counts of bearing discharges on motors fed by variable-frequency drives: from sensors and drives to the',
        'gateway, and from the gateway to everyone. MQTT 3.1.1, JSON in UTF-8, QoS 1. Receivers ignore fields that they',
        `do not know. Names are ${NAME_RULE}; ${RESERVED_NAMES.join(', ')} are reserved.`,
        'A count is no severity and no diagnosis. Never use these messages as an interlock, a trip or a protection input.',
      ].join(' '),
      license: { name: 'Apache-2.0' },
    },
    defaultContentType: 'application/json',
    servers: {
      gateway: {
        host: '{host}:{port}',
        protocol: 'mqtt',
        protocolVersion: '3.1.1',
        description: 'The broker within the gateway',
        variables: {
          host: { default: '127.0.0.1', description: 'loopback only, until users are configured' },
          port: { default: '1883' },
        },
      },
    },
    channels: Object.fromEntries(CATALOGUE.map((entry) => [channelName(entry), channel(entry)])),
    operations: Object.fromEntries(CATALOGUE.map((entry) => [operationName(entry), operation(entry)])),
    components: {
      messages: Object.fromEntries(CATALOGUE.map((entry) => [entry.name, message(entry)])),
      parameters: PARAMETERS,
    },
  };
}

const PARAMETERS: Readonly<Record<string, Record<string, unknown>>> = {
  site: { description: `The site, as configured; ${NAME_RULE}`, examples: ['tarn-hollow'] },
  motor: { description: `A motor, as configured; ${NAME_RULE}`, examples: ['booster-4', 'fan-1'] },
  position: {
    description: `Where the sensor sits: de for the drive end, nde for the other, or another name of ${NAME_RULE}`,
    examples: ['de', 'nde'],
  },
  period: { description: 'Length of the rollup', enum: [...PERIODS] },
  alarm: { description: `The alarm within its motor; ${NAME_RULE}`, examples: ['de-rate-high'] },
};

function channelName({ name }: CatalogueEntry): string {
  return name.replace(/-([a-z])/g, (_, letter: string) => letter.toUpperCase());
}

function operationName(entry: CatalogueEntry): string {
  const name = channelName(entry);
  return `${entry.direction === 'in' ? 'receive' : 'send'}${name.charAt(0).toUpperCase()}${name.slice(1)}`;
}

function channel(entry: CatalogueEntry): Record<string, unknown> {
  const names = [...entry.address.matchAll(/\{([a-z]+)\}/g)].flatMap(([, name]) =>
    name === undefined ? [] : [name],
  );
  return {
    address: entry.address,
    title: entry.title,
    description: entry.about,
    messages: { [entry.name]: { $ref: `#/components/messages/${entry.name}` } },
    parameters: Object.fromEntries(names.map((name) => [name, { $ref: `#/components/parameters/${name}` }])),
  };
}

function operation(entry: CatalogueEntry): Record<string, unknown> {
  const path = `#/channels/${channelName(entry)}`;
  return {
    action: entry.direction === 'in' ? 'receive' : 'send',
    title: entry.title,
    channel: { $ref: path },
    messages: [{ $ref: `${path}/messages/${entry.name}` }],
    bindings: { mqtt: { qos: 1, retain: entry.retained, bindingVersion: BINDING } },
  };
}

function message(entry: CatalogueEntry): Record<string, unknown> {
  return {
    name: entry.name,
    title: entry.title,
    summary: entry.about,
    contentType: 'application/json',
    payload: payloadSchema(entry),
    examples: [{ name: 'canonical', summary: entry.example.topic, payload: entry.example.payload }],
  };
}
