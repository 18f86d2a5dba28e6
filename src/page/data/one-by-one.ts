/**
 * A load that is wished for more often than it can be done: by each event of a stream, say. One goes at a time and each goes to its end;
 * whatever was wished for meanwhile is one more load after it.
 */

export interface OneByOne {
  /** Soon; wishes that come together are one. */
  readonly wish: () => void;
  /** What is under way is aborted, and nothing begins any more. */
  readonly end: () => void;
}

/**
 * `load` goes at once, and never rejects. `settleMs`: from a wish to its load. After a load there is a pause as long as it took, so that
 * a stream of wishes never takes more than half of the gateway's time.
 */
export function loadOneByOne(load: (signal: AbortSignal) => Promise<void>, settleMs: number): OneByOne {
  const abort = new AbortController();
  let timer: ReturnType<typeof setTimeout> | null = null;
  let isUnderWay = false;
  let isWished = false;
  const plan = (pauseMs: number): void => {
    isWished = false;
    timer ??= setTimeout(() => void run(), pauseMs);
  };
  const run = async (): Promise<void> => {
    timer = null;
    isUnderWay = true;
    const begunAt = performance.now();
    await load(abort.signal);
    isUnderWay = false;
    if (isWished && !abort.signal.aborted) plan(Math.max(settleMs, performance.now() - begunAt));
  };
  void run();
  return {
    wish: () => {
      if (abort.signal.aborted) return;
      if (isUnderWay) isWished = true;
      else plan(settleMs);
    },
    end: () => {
      abort.abort();
      if (timer !== null) clearTimeout(timer);
    },
  };
}
