/**
 * The way to the HTTP interface: a thread of its own; or, where the sources run uncompiled (tests), the same room behind the same
 * messages in this thread.
 */
import { MessageChannel, Worker, type ResourceLimits } from 'node:worker_threads';
import type { FromWeb, ToWeb, WebSettings } from './protocol.js';

export interface Line {
  post(message: ToWeb): void;
  end(this: void): Promise<void>;
}

export interface LineEvents {
  receive(this: void, message: FromWeb): void;
  /** it is gone, and why */
  lost(this: void, fault: string): void;
}

const IS_COMPILED = import.meta.url.endsWith('.js');
/**
 * What lives: its program (some 30 MB), the ring of the live stream (up to 4,096 events of 2 kB), eight rehearsals, and the answers
 * under way: a year of a motor has 1 MB, a list of a thousand motors 2 MB, and 128 connections may ask. A fault stops there
 * and takes neither the intake nor the engine with it. Of the young part, 48 MB unless limited, 10 MB were never more than garbage.
 */
const LIMITS: ResourceLimits = { maxOldGenerationSizeMb: 320, maxYoungGenerationSizeMb: 8 };
/** A reading thread within a long query ends after it only. */
const END_MS = 5_000;

export async function startLine(settings: WebSettings, events: LineEvents): Promise<Line> {
  return IS_COMPILED ? startThread(settings, events) : startHere(settings, events);
}

function startThread(settings: WebSettings, { receive, lost }: LineEvents): Line {
  const worker = new Worker(new URL('./thread.js', import.meta.url), {
    workerData: settings,
    resourceLimits: LIMITS,
  });
  let fault = 'it ended';
  worker.on('message', receive);
  worker.on('error', (error) => {
    fault = error instanceof Error ? (error.stack ?? error.message) : String(error);
  });
  worker.on('exit', () => lost(fault));
  return {
    post: (message) => worker.postMessage(message),
    end: async () => {
      const patience = new Promise((resolve) => setTimeout(resolve, END_MS).unref());
      await Promise.race([worker.terminate(), patience]);
    },
  };
}

async function startHere(settings: WebSettings, { receive, lost }: LineEvents): Promise<Line> {
  const { WebRoom } = await import('./room.js');
  const { port1, port2 } = new MessageChannel();
  port1.on('message', receive);
  port1.on('close', () => lost('it ended'));
  const room = new WebRoom(structuredClone(settings), (message) => port2.postMessage(message));
  port2.on('message', (message: ToWeb) => room.receive(message));
  return {
    post: (message) => port1.postMessage(message),
    end: () => {
      port1.close();
      return Promise.resolve();
    },
  };
}
