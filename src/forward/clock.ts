/** Time as the forwarder sees it; a test brings one of its own. */

export interface ForwardClock {
  /** the gateway's clock, ms since the epoch: for what is written down, and for how old what was written down is */
  now(this: void): number;
  /** ms from any beginning; nobody sets it and it never falls: for every wait, pace, deadline and measurement */
  steady(this: void): number;
  /** calls once, after so many ms; the returned function takes it back */
  after(this: void, ms: number, call: () => void): () => void;
}

export const WALL_CLOCK: ForwardClock = {
  now: () => Date.now(),
  steady: () => performance.now(),
  after: (ms, call) => {
    const timer = setTimeout(call, ms);
    return () => clearTimeout(timer);
  },
};

/** `offsetMs`: what the gateway's clock adds to the machine's just now. */
export function makeGatewayClock(offsetMs: () => number): ForwardClock {
  return { ...WALL_CLOCK, now: () => Math.floor(WALL_CLOCK.now() + offsetMs()) };
}

/** Ends early when `signal` aborts. */
export function waitFor(clock: ForwardClock, ms: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    if (signal.aborted) {
      resolve();
      return;
    }
    const finish = (): void => {
      cancel();
      signal.removeEventListener('abort', finish);
      resolve();
    };
    const cancel = clock.after(ms, finish);
    signal.addEventListener('abort', finish);
  });
}

/** A sink that does not answer though its signal aborted is left to itself after so long. */
const GRACE_MS = 2_000;

export class DeadlinePassed extends Error {}

/**
 * Runs a call under a deadline: its signal aborts when the time is over or `stop` aborts. Rejects with `DeadlinePassed` when
 * it does not even answer to that.
 */
export async function underDeadline<T>(
  clock: ForwardClock,
  ms: number,
  stop: AbortSignal,
  call: (signal: AbortSignal) => Promise<T>,
): Promise<T> {
  const abort = new AbortController();
  const onStop = (): void => abort.abort();
  if (stop.aborted) abort.abort();
  stop.addEventListener('abort', onStop);
  const cancelDeadline = clock.after(ms, () => abort.abort());
  let cancelGrace = (): void => undefined;
  const hung = new Promise<never>((_, reject) => {
    abort.signal.addEventListener('abort', () => {
      cancelGrace = clock.after(GRACE_MS, () =>
        reject(new DeadlinePassed(`no answer within ${Math.round(ms / 1000)} s`)),
      );
    });
  });
  try {
    return await Promise.race([call(abort.signal), hung]);
  } finally {
    cancelDeadline();
    cancelGrace();
    stop.removeEventListener('abort', onStop);
  }
}
