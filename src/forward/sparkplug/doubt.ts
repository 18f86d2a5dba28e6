/**
 * What was sent so lately that the host may have died before it came: data travel with QoS 0, and a broker notices a dead host
 * only when its keep-alive has run out. Kept are no records but the times that they are of, in slices by when they were sent,
 * durable before anything of them is sent: whatever is killed, the store can be asked for them again. Transients that were
 * withdrawn are in no store any more, so these are kept themselves.
 */
import type { Content, SinkMemory, SinkRecord, Stretch } from '../sink.js';
import { holds, joinSpans, type Span } from '../spans.js';

/** What is remembered of a time is rounded to this, so that little is written. Our choice. */
const GRAIN_MS = 600_000;
/** Of one stream in one slice; more are drawn together. Our choice. */
const SPANS_MOST = 8;
/** Slices that `forMs` is divided into. Our choice: of 10 s at the default. */
const SLICES = 12;
/** Withdrawn transients in doubt at a time; more wait until older ones are no longer. More than a batch has. Ours: some 120 kB. */
const WITHDRAWN_MOST = 600;

interface Slice {
  /** by the clock that nobody sets; null: of an earlier life, in doubt already */
  readonly openedAt: number | null;
  /** by stream and period */
  readonly spans: Map<string, readonly Span[]>;
  readonly withdrawn: SinkRecord[];
}

interface Kept {
  readonly slices: readonly {
    readonly spans: Readonly<Record<string, readonly Span[]>>;
    readonly withdrawn: readonly SinkRecord[];
  }[];
  readonly pending: readonly SinkRecord[];
}

export interface DoubtParts {
  readonly memory: SinkMemory;
  /** how long a broker may take to notice that the host is dead */
  readonly forMs: number;
  steady(this: void): number;
  /** durable when it returns */
  askAgain(this: void, stretches: readonly Stretch[]): void;
}

export class Doubt {
  private slices: Slice[];
  /** withdrawn transients that are to be sent again, oldest first */
  private pending: SinkRecord[];
  private readonly sliceMs: number;

  constructor(private readonly parts: DoubtParts) {
    this.sliceMs = Math.ceil(parts.forMs / SLICES);
    const json = parts.memory.read();
    const kept = json === null ? { slices: [], pending: [] } : (JSON.parse(json) as Kept);
    this.slices = kept.slices.map(({ spans, withdrawn }) => ({
      ...{ openedAt: null, spans: new Map(Object.entries(spans)), withdrawn: [...withdrawn] },
    }));
    this.pending = [...kept.pending];
  }

  /** Before they are sent; durable when it returns. False: there is no room until older ones are no longer in doubt. */
  note(records: readonly SinkRecord[]): boolean {
    const steadyAt = this.parts.steady();
    this.forgetOld(steadyAt);
    const withdrawn = records.filter(isWithdrawn);
    // what is sent again has room already
    const isNew = withdrawn.some((record) => !has(this.pending, record));
    if (isNew && this.countWithdrawn() + withdrawn.length > WITHDRAWN_MOST) return false;
    let slice = this.slices.at(-1);
    let hasChanged = withdrawn.length > 0;
    if (slice === undefined || slice.openedAt === null || slice.openedAt + this.sliceMs <= steadyAt) {
      slice = { openedAt: steadyAt, spans: new Map(), withdrawn: [] };
      this.slices.push(slice);
      hasChanged = true;
    }
    for (const record of withdrawn) if (!has(slice.withdrawn, record)) slice.withdrawn.push(record);
    for (const { content, at } of records) {
      const key = keyOf(content);
      const spans = slice.spans.get(key) ?? [];
      if (holds(spans, at)) continue;
      const from = Math.floor(at / GRAIN_MS) * GRAIN_MS;
      slice.spans.set(key, joinSpans([...spans, [from, from + GRAIN_MS]], SPANS_MOST));
      hasChanged = true;
    }
    if (hasChanged) this.keep();
    return true;
  }

  /** What was sent within the time, or by an earlier life, is asked for again. What it throws leaves it in doubt. */
  arise(): void {
    this.forgetOld(this.parts.steady());
    if (this.slices.length === 0) return;
    // should asking fail, none of them grows too old until it is done
    this.slices = this.slices.map((slice) => ({ ...slice, openedAt: null }));
    const bySort = new Map<string, Span[]>();
    for (const { spans } of this.slices)
      for (const [key, own] of spans) bySort.set(key, [...(bySort.get(key) ?? []), ...own]);
    const stretches = [...bySort].flatMap(([key, spans]) =>
      joinSpans(spans, SPANS_MOST * SLICES).map(([from, to]) => ({ ...readKey(key), from, to })),
    );
    if (stretches.length > 0) this.parts.askAgain(stretches);
    for (const record of this.slices.flatMap(({ withdrawn }) => withdrawn))
      if (!has(this.pending, record)) this.pending.push(record);
    this.slices = [];
    this.keep();
  }

  /** Asking failed, and is to be done before anything else is sent. */
  get isOwed(): boolean {
    return this.slices[0]?.openedAt === null;
  }

  /** Withdrawn transients that are to be sent again, at most so many, flagged. `settle` takes them away. */
  peek(most: number): readonly SinkRecord[] {
    return this.pending.slice(0, most);
  }

  /** They were sent, and noted before that. */
  settle(count: number): void {
    if (count === 0) return;
    this.pending.splice(0, count);
    this.keep();
  }

  private countWithdrawn(): number {
    return this.slices.reduce((sum, { withdrawn }) => sum + withdrawn.length, this.pending.length);
  }

  private forgetOld(steadyAt: number): void {
    this.slices = this.slices.filter(
      ({ openedAt }) => openedAt === null || openedAt + this.sliceMs + this.parts.forMs >= steadyAt,
    );
  }

  private keep(): void {
    const slices = this.slices.map(({ spans, withdrawn }) => ({
      ...{ spans: Object.fromEntries(spans), withdrawn },
    }));
    this.parts.memory.write(JSON.stringify({ slices, pending: this.pending } satisfies Kept));
  }
}

function has(records: readonly SinkRecord[], { key, revision }: SinkRecord): boolean {
  return records.some((one) => one.key === key && one.revision === revision);
}

function isWithdrawn({ content }: SinkRecord): boolean {
  return content.stream === 'transients' && content.row === null;
}

function keyOf(content: Content): string {
  return content.stream === 'rollups' || content.stream === 'manifests'
    ? `${content.stream} ${content.row.period}`
    : content.stream;
}

function readKey(key: string): Pick<Stretch, 'stream' | 'period'> {
  const [stream, period] = key.split(' ') as [Stretch['stream'], Stretch['period'] | undefined];
  return { stream, period: period ?? null };
}
