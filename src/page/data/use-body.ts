/** What a component shows from one address: its body, or why there is none. Loaded anew when the address changes, or on request. */
import { useCallback, useEffect, useState } from 'preact/hooks';
import { addressOf, fetchBody, toProblem, type ApiProblem } from './api-client.js';

type Parameters = Readonly<Record<string, string | number | null | undefined>>;

export interface Loading<T> {
  /** of the address asked for last; null: not there yet, or never */
  readonly body: T | null;
  readonly problem: ApiProblem | null;
  reload: () => void;
}

/** `path` below /api/v1; null: nothing is asked. */
export function useBody<T>(path: string | null, parameters: Parameters = {}): Loading<T> {
  const address = path === null ? '' : addressOf(path, parameters);
  const [found, setFound] = useState<{ address: string; body: T | null; problem: ApiProblem | null } | null>(
    null,
  );
  const [round, setRound] = useState(0);
  useEffect(() => {
    if (path === null) return undefined;
    const abort = new AbortController();
    fetchBody<T>(path, parameters, abort.signal).then(
      (body) => setFound({ address, body, problem: null }),
      (error: unknown) => {
        if (!abort.signal.aborted) setFound({ address, body: null, problem: toProblem(error) });
      },
    );
    return () => abort.abort();
  }, [address, round]);
  const reload = useCallback(() => setRound((before) => before + 1), []);
  const isIt = found !== null && found.address === address;
  return { body: isIt ? found.body : null, problem: isIt ? found.problem : null, reload };
}
