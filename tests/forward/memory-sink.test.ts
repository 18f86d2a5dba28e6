/** The suite of the sinks, run on a sink in memory: what the suite asks can be done. */
import { MemoryReceiver, openMemorySink } from './memory-sink.js';
import { describeSink } from './sink-contract.js';

describeSink('in memory', () => {
  const receiver = new MemoryReceiver();
  return Promise.resolve({
    makeSink: () => openMemorySink(receiver),
    held: () => Promise.resolve(receiver.held()),
    kill: () => {
      receiver.isDead = true;
      return Promise.resolve();
    },
    restart: () => {
      receiver.isDead = false;
      return Promise.resolve();
    },
    stop: () => Promise.resolve(),
  });
});
