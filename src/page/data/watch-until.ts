/** Watches something that changes until it is over, past answers that do not come: one that is missed is no end. */

export interface Watch<T> {
  /** pause after an answer, and after none */
  readonly everyMs: number;
  /** Rejects when no answer came. */
  readonly load: (signal: AbortSignal) => Promise<T>;
  readonly take: (found: T) => void;
  readonly isOver: (found: T) => boolean;
  /** Hears why no answer came, and says whether to ask again: not where what is watched is gone. */
  readonly fail: (error: unknown) => boolean;
}

/** Asks at once, and then until it is over. Returns the function that ends it; nothing is told after that. */
export function watchUntil<T>(watch: Watch<T>): () => void {
  const abort = new AbortController();
  const { signal } = abort;
  let timer: ReturnType<typeof setTimeout> | undefined;
  const goOn = (isWanted: boolean): void => {
    if (isWanted && !signal.aborted) timer = setTimeout(ask, watch.everyMs);
  };
  const ask = (): void => {
    watch.load(signal).then(
      (found) => {
        if (signal.aborted) return;
        watch.take(found);
        goOn(!watch.isOver(found));
      },
      (error: unknown) => {
        if (!signal.aborted) goOn(watch.fail(error));
      },
    );
  };
  ask();
  return () => {
    abort.abort();
    clearTimeout(timer);
  };
}
