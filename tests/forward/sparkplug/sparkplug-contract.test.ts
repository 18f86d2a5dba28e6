/**
 * The suite of the sinks, run on `sparkplug` against a real broker with a host that keeps its table by metric and time: of what it
 * hears twice, the higher revision stands. Needs mosquitto.
 */
import { it } from 'vitest';
import { sleep } from '../../support/child.js';
import { hasMosquitto, listenTo, startMosquitto, WITHOUT_MOSQUITTO } from '../../support/heard-broker.js';
import { describeSink, type Held } from '../sink-contract.js';
import { Host, makeMemory, makeSink } from './rig.js';

/** Stream and key of a record, from the group of metrics that tells its revision. Null: it is none of these. */
function recordOf(device: string, group: string, at: number, number: unknown): Omit<Held, 'revision'> | null {
  const parts = group.split('/');
  if (group === 'journal') return { stream: 'journal', key: String(number) };
  if (group === 'transient') return { stream: 'transients', key: `${device}|${at}` };
  const alarm = parts.at(-1)!;
  if (parts.at(-2) === 'alarm')
    return { stream: 'alarms', key: `${parts.length === 3 ? parts[0]! : device}.${alarm}` };
  const key = `${device}/${parts[0]}|${parts[1]}|${at}`;
  return { stream: parts[2] === 'manifest' ? 'manifests' : 'rollups', key };
}

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
        const record = recordOf(device, name.slice(0, -'/revision'.length), at, numbers.get(at));
        if (record === null) continue;
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
