/** A body that a view loads for itself: again when its address changes, when it is told to, and after a break of the connection. */
import { useCallback, useEffect, useState } from 'preact/hooks';
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
    fetchBody<T>(to, given, abort.signal).then(
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
