/**
 * What no event tells and is asked for again and again while it is looked at: the last answer stays when one fails, so that a
 * view never falls empty, and says how old it is. A tab in the background asks for nothing.
 */
import { useCallback, useEffect, useRef, useState } from 'preact/hooks';
import { toProblem, type ApiProblem } from './api-client.js';
import { readNow } from './clock.js';
import { onLive } from './live-events.js';

export interface Polled<T> {
  /** the last answer for this key; null: none yet */
  readonly body: T | null;
  /** why the last attempt failed; null: it did not */
  readonly problem: ApiProblem | null;
  /** when `body` came, by the gateway's clock, ms; null: none yet */
  readonly at: number | null;
  readonly reload: () => void;
}

interface Found<T> {
  readonly key: string;
  readonly body: T | null;
  readonly problem: ApiProblem | null;
  readonly at: number | null;
}

/** `key` names what is loaded; null: nothing is. `everyMs` after an answer, or a failure, it is asked again; null: it is not. */
export function usePolled<T>(
  key: string | null,
  load: (signal: AbortSignal) => Promise<T>,
  everyMs: number | null,
): Polled<T> {
  const [found, setFound] = useState<Found<T> | null>(null);
  const [turn, setTurn] = useState(0);
  const reload = useCallback(() => setTurn((last) => last + 1), []);
  const loading = useRef(load);
  loading.current = load;
  useEffect(() => onLive('again', reload), []);
  useEffect(() => {
    if (key === null) return;
    const abort = new AbortController();
    let timer: number | undefined;
    const ask = async (): Promise<void> => {
      clearTimeout(timer);
      try {
        const body = await loading.current(abort.signal);
        if (!abort.signal.aborted) setFound({ key, body, problem: null, at: readNow() });
      } catch (error) {
        if (!abort.signal.aborted) setFound((last) => fail(last, key, toProblem(error)));
      }
      if (!abort.signal.aborted && everyMs !== null) timer = window.setTimeout(askIfSeen, everyMs);
    };
    const askIfSeen = (): void => {
      if (!document.hidden) void ask();
    };
    const wake = (): void => {
      if (!document.hidden && everyMs !== null) void ask();
    };
    void ask();
    document.addEventListener('visibilitychange', wake);
    return () => {
      abort.abort();
      clearTimeout(timer);
      document.removeEventListener('visibilitychange', wake);
    };
  }, [key, turn, everyMs]);
  const mine = found !== null && found.key === key ? found : null;
  return { body: mine?.body ?? null, problem: mine?.problem ?? null, at: mine?.at ?? null, reload };
}

function fail<T>(last: Found<T> | null, key: string, problem: ApiProblem): Found<T> {
  const kept = last !== null && last.key === key ? last : null;
  return { key, body: kept?.body ?? null, problem, at: kept?.at ?? null };
}
