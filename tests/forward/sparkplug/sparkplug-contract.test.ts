/**
 * The suite of the sinks, run on `sparkplug` against a real broker with a host that keeps its table by metric and time: of what it
 * hears twice, the higher revision stands. Needs mosquitto.
 */
import { it } from 'vitest';
import { sleep } from '../../support/child.js';
import { hasMosquitto, listenTo, startMosquitto, WITHOUT_MOSQUITTO } from '../../support/heard-broker.js';
import { describeSink, type Held } from '../sink-contract.js';
import { nameRecord } from './record-name.js';
import { Host, makeMemory, makeSink } from './rig.js';

if (!hasMosquitto()) it(WITHOUT_MOSQUITTO, () => console.warn(WITHOUT_MOSQUITTO));
else
  describeSink('sparkplug', async () => {
    const broker = await startMosquitto();
    const view = new Host();
    let host = await listenTo(broker.url, ['spBv1.0/#']);
    const table = new Map<string, Held>();
    const drain = async (): Promise<void> => {
      await sleep(250);
      for (const { topic, payload } of host.heard.splice(0)) view.hear(topic, payload);
      const values = view.values.splice(0);
      const numbers = new Map(
        values.flatMap(({ name, at, value }) => (name === 'journal/number' ? [[at, value]] : [])),
      );
      for (const { device, name, at, value } of values) {
        if (!name.endsWith('/revision')) continue;
        const record = nameRecord(device, name.slice(0, -'/revision'.length), at, numbers.get(at));
        const key = `${record.stream} ${record.key}`;
        const before = table.get(key);
        if (before === undefined || before.revision < Number(value))
          table.set(key, { ...record, revision: Number(value) });
      }
    };
    const memory = makeMemory();
    return {
      makeSink: () => makeSink(broker.url, {}, memory),
      held: async () => {
        await drain();
        return [...table.values()];
      },
      kill: async () => {
        await drain();
        await broker.kill();
      },
      restart: async () => {
        await broker.start();
        host = await listenTo(broker.url, ['spBv1.0/#']);
      },
      stop: async () => {
        await host.close();
        await broker.stop();
      },
    };
  });
