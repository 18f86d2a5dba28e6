/** A body that a view loads for itself: again when its address changes, when it is told to, and after a break of the connection. */
import { useCallback, useEffect, useState } from 'preact/hooks';
import { fetchWhole } from '../data/all-pages.js';
import { fetchBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { onLive } from '../data/live-events.js';

export interface Loaded<T> {
  /** the last answer of this address; null: none yet */
  readonly body: T | null;
  readonly problem: ApiProblem | null;
  readonly reload: () => void;
}

type Parameters = Readonly<Record<string, string | number | null | undefined>>;

/** `path` below /api/v1; null: nothing is to be loaded. An answer that comes after the address has changed is let go. */
export function useBody<T>(path: string | null, parameters: Parameters = {}): Loaded<T> {
  return useLoaded<T>(path, parameters, fetchBody<T>);
}

/** Likewise, all pages of a list. `list`: the name of its items in the body. */
export function useWhole<B extends { readonly next: string | null }>(
  path: string | null,
  list: keyof B,
  parameters: Parameters = {},
): Loaded<B> {
  return useLoaded<B>(path, parameters, (to, given, signal) => fetchWhole<B>(to, list, given, signal));
}

/** `load` is the same function of its arguments at each call. */
function useLoaded<T>(
  path: string | null,
  parameters: Parameters,
  load: (path: string, parameters: Parameters, signal: AbortSignal) => Promise<T>,
): Loaded<T> {
  const key = path === null ? null : JSON.stringify([path, parameters]);
  const [state, setState] = useState<{ key: string | null; body: T | null; problem: ApiProblem | null }>({
    ...{ key: null, body: null, problem: null },
  });
  const [turn, setTurn] = useState(0);
  const reload = useCallback(() => setTurn((last) => last + 1), []);
  useEffect(() => onLive('again', reload), []);
  useEffect(() => {
    if (key === null) return;
    const [to, given] = JSON.parse(key) as [string, Parameters];
    const abort = new AbortController();
    load(to, given, abort.signal).then(
      (body) => abort.signal.aborted || setState({ key, body, problem: null }),
      (error: unknown) => {
        if (!abort.signal.aborted)
          setState((last) => ({ key, body: last.key === key ? last.body : null, problem: toProblem(error) }));
      },
    );
    return () => abort.abort();
  }, [key, turn]);
  const isMine = state.key === key;
  return { body: isMine ? state.body : null, problem: isMine ? state.problem : null, reload };
}
