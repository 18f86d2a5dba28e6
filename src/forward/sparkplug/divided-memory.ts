/** One memory for two who keep something: the first has it as it always was, the other a place of its own in it. */
import type { SinkMemory } from '../sink.js';

const BESIDE = 'doubt';

/** Both write objects. */
export function divideMemory(memory: SinkMemory): readonly [main: SinkMemory, beside: SinkMemory] {
  const { [BESIDE]: kept, ...rest } = JSON.parse(memory.read() ?? '{}') as Record<string, unknown>;
  let main = Object.keys(rest).length === 0 ? null : JSON.stringify(rest);
  let beside = kept === undefined ? null : JSON.stringify(kept);
  const write = (): void => {
    // put together as text: the first may be large, and is written seldom
    const both = [main?.slice(1, -1) ?? '', beside === null ? '' : `"${BESIDE}":${beside}`];
    memory.write(`{${both.filter((part) => part !== '').join(',')}}`);
  };
  return [
    {
      read: () => main,
      write: (json) => {
        main = json;
        write();
      },
    },
    {
      read: () => beside,
      write: (json) => {
        beside = json;
        write();
      },
    },
  ];
}
