/** Runs a rehearsal in the thread that calls, and tells how it goes. Never throws. */
import { openReader, type ReadStore } from '../store/reader.js';
import type { Rehearsal } from './outcome.js';
import { rehearse, type RehearsalWish } from './rehearse.js';

/** Survives a structured clone. `hint` null: a fault of ours, without advice. */
export type RehearsalNews =
  | { readonly kind: 'progress'; readonly share: number }
  | { readonly kind: 'done'; readonly result: Rehearsal }
  | {
      readonly kind: 'failed';
      readonly code: string;
      readonly message: string;
      readonly hint: string | null;
    };

/** Whoever stops asking has cancelled it. */
export function* runHere(dataDir: string, wish: RehearsalWish): Generator<RehearsalNews> {
  let reader: ReadStore | null = null;
  try {
    reader = openReader(dataDir);
    const run = rehearse(reader, wish);
    for (let step = run.next(); ; step = run.next()) {
      if (step.done === true) {
        yield { kind: 'done', result: step.value };
        return;
      }
      yield { kind: 'progress', share: step.value };
    }
  } catch (error) {
    yield toFailure(error);
  } finally {
    reader?.close();
  }
}

function toFailure(error: unknown): RehearsalNews {
  const { message, code, hint } = error as { message?: unknown; code?: unknown; hint?: unknown };
  return {
    kind: 'failed',
    code: typeof code === 'string' ? code : 'failed',
    message: typeof message === 'string' ? message : String(error),
    hint: typeof hint === 'string' ? hint : null,
  };
}
