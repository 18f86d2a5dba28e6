/** An error on its way from one thread to the other: what code and hint say is what the answer to a request is made of. */

export interface Fault {
  readonly message: string;
  readonly stack: string;
  /** null: it has none */
  readonly code: string | null;
  readonly hint: string | null;
}

export function toFault(error: unknown): Fault {
  if (!(error instanceof Error)) return { message: String(error), stack: '', code: null, hint: null };
  const { code, hint } = error as Error & { readonly code?: unknown; readonly hint?: unknown };
  return {
    ...{ message: error.message, stack: error.stack ?? '' },
    code: typeof code === 'string' ? code : null,
    hint: typeof hint === 'string' ? hint : null,
  };
}

export function toError({ message, stack, code, hint }: Fault): Error {
  const error = new Error(message);
  if (stack !== '') error.stack = stack;
  if (code !== null) Object.assign(error, { code });
  if (hint !== null) Object.assign(error, { hint });
  return error;
}
