/** Lines for the log of the gateway, which somebody who asks for the same fault again and again cannot fill. */

const LINES_MOST = 50;
const WITHIN_MS = 10_000;

export class FaultLog {
  readonly #write: (facts: object, text: string) => void;
  #begunAt = -Infinity;
  #lines = 0;
  #leftOut = 0;

  constructor(write: (facts: object, text: string) => void) {
    this.#write = write;
  }

  /** Whatever is an error in the facts becomes plain: errors lose their fields on the way to another thread. */
  error(facts: Readonly<Record<string, unknown>>, text: string): void {
    const now = performance.now();
    if (now - this.#begunAt > WITHIN_MS) {
      this.#begunAt = now;
      this.#lines = 0;
    }
    this.#lines += 1;
    if (this.#lines > LINES_MOST) {
      this.#leftOut += 1;
      return;
    }
    const plain = Object.entries(facts).map(([name, value]) => [name, toPlain(value)] as const);
    const more = this.#leftOut === 0 ? {} : { leftOut: this.#leftOut };
    this.#leftOut = 0;
    this.#write({ ...Object.fromEntries(plain), ...more }, text);
  }
}

function toPlain(value: unknown): unknown {
  if (!(value instanceof Error)) return value;
  const { name: type, message, stack = '' } = value;
  const { code, hint } = value as Error & { readonly code?: unknown; readonly hint?: unknown };
  return {
    type,
    message,
    stack,
    ...(typeof code === 'string' ? { code } : {}),
    ...(typeof hint === 'string' ? { hint } : {}),
  };
}
