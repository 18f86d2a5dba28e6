/**
 * Receivers as the view shows them: from the list of the sinks where the gateway has one, otherwise from what it says of them
 * beside its own state. Pure but for the request.
 */
import { ApiProblem, fetchBody } from '../data/api-client.js';
import type { GatewayBody } from '../data/station-bodies.js';
import type { VerdictKind } from '../parts/verdicts.js';

/** Of a sink, as `GET /api/v1/sinks` tells it: the part that is shown. */
export interface SinkTold {
  readonly name: string;
  readonly kind: string;
  readonly state: string;
  readonly waiting: number;
  readonly backlog: number;
  readonly live_lag_ms: number;
  readonly rate_per_s: number;
  readonly eta_ms: number | null;
  readonly quarantined: number;
  readonly lost: number;
  readonly failing_since: string | null;
  readonly last_success_at: string | null;
  readonly last_error: string;
}

/** A gateway without the list is asked for it once, not again and again. */
let isMissing = false;

/** null: the gateway has no such list, or no receivers to list. Rejects as `fetchBody` does otherwise. */
export async function fetchSinks(
  { sinks }: GatewayBody,
  signal: AbortSignal,
): Promise<readonly SinkTold[] | null> {
  if (isMissing || sinks.length === 0) return null;
  try {
    return (await fetchBody<{ sinks: readonly SinkTold[] }>('/sinks', {}, signal)).sinks;
  } catch (error) {
    if (!(error instanceof ApiProblem)) throw error;
    isMissing = error.status === 404;
    // 503: forwarding has not begun yet
    if (isMissing || error.status === 503) return null;
    throw error;
  }
}

export interface SinkLine {
  readonly name: string;
  readonly kind: string;
  readonly verdict: readonly [VerdictKind, string];
  /** last delivery; null: none yet */
  readonly at: string | null;
  readonly waiting: number;
  /** null: not told */
  readonly backlog: number | null;
  readonly refused: number | null;
  readonly lost: number | null;
  readonly says: string;
  /** what the configuration file says of it, where that is something else; empty: nothing */
  readonly file: string;
}

type FileState = GatewayBody['sinks'][number]['file'];

const FILE_WORDS: Readonly<Record<FileState, string>> = {
  same: '',
  differs: 'Its settings in the file are others: they take effect at the next start.',
  gone: 'It is not in the file any more: it ends with the next start.',
  'not-known': '',
};

const STATES: Readonly<Record<string, readonly [VerdictKind, string]>> = {
  live: ['good', 'live'],
  working: ['good', 'working'],
  draining: ['busy', 'backlog under way'],
  connecting: ['busy', 'connecting'],
  idle: ['unknown', 'idle'],
  behind: ['look', 'behind'],
  failing: ['wrong', 'failing'],
};

/** `at`: of the last delivery; what has taken nothing yet is not known to be served. */
function judge(state: string, at: string | null): readonly [VerdictKind, string] {
  const known = STATES[state] ?? (['unknown', state] as const);
  return known[0] === 'good' && at === null ? ['unknown', 'nothing taken yet'] : known;
}

/** `told` null: there is no list, so that the few words beside the gateway's state must do. */
export function listSinks(body: GatewayBody, told: readonly SinkTold[] | null): SinkLine[] {
  if (told === null)
    return body.sinks.map(({ sink, kind, state, last_delivered_at: at, pending, says, file }) => ({
      ...{ name: sink, kind, verdict: judge(state, at), at, waiting: pending, says, file: FILE_WORDS[file] },
      ...{ backlog: null, refused: null, lost: null },
    }));
  const files = new Map(body.sinks.map(({ sink, file }) => [sink, FILE_WORDS[file]]));
  return told.map((sink) => ({
    ...{
      name: sink.name,
      kind: sink.kind,
      verdict: judge(sink.state, sink.last_success_at),
      at: sink.last_success_at,
    },
    ...{ waiting: sink.waiting, backlog: sink.backlog, refused: sink.quarantined, lost: sink.lost },
    says: sink.failing_since === null ? '' : sink.last_error,
    file: files.get(sink.name) ?? '',
  }));
}
