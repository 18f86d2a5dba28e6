/**
 * What the time chart of one motor shows: its span, the cursor, the marks that a person set, and what was loaded for it. A span
 * changes at once and is drawn from what is there; the load that makes it sharp follows when the movement has stopped.
 */
import { batch, computed, signal } from '@preact/signals';
import type { SeriesBody, TimelineBody } from '../../../shared/charts.js';
import { endNow, isAtNow, isEnough, keepInTime, loadingSpan, type Span } from '../charts/span.js';
import { fetchBody, toProblem, type ApiProblem } from '../data/api-client.js';
import { readNow } from '../data/clock.js';

/** Buckets asked for: of twice the span that is shown; each is drawn as two places. */
const POINTS = 1_900;
const CONDITION_POINTS = 1_000;
const SETTLE_MS = 160;
const MARKS_MOST = 500;
const RELOAD_LEAST_MS = 10_000;

export interface Loaded {
  readonly span: Span;
  readonly series: readonly SeriesBody[];
  readonly timeline: TimelineBody;
}

export class ChartModel {
  readonly span = signal<Span>({ from: 0, to: 1 });
  /** the span when the movement had stopped; another object each time that, or a load for it, came to its end */
  readonly settled = signal<Span>({ from: 0, to: 1 });
  /** the chart goes with the time */
  readonly isFollowing = signal(true);
  readonly cursor = signal<number | null>(null);
  readonly markA = signal<number | null>(null);
  readonly markB = signal<number | null>(null);
  readonly loaded = signal<Loaded | null>(null);
  readonly problem = signal<ApiProblem | null>(null);
  readonly isLoading = signal(false);
  readonly marked = computed<Span | null>(() => {
    const [a, b] = [this.markA.value, this.markB.value];
    return a === null || b === null || a === b ? null : { from: Math.min(a, b), to: Math.max(a, b) };
  });

  /** The cursor where it is seen; null: there is none, or the chart has gone on from it. */
  readonly seenCursor = computed<number | null>(() => {
    const [at, { from, to }] = [this.cursor.value, this.span.value];
    return at !== null && at >= from && at <= to ? at : null;
  });

  readonly #motor: string;
  readonly #sensors: readonly string[];
  #timer: ReturnType<typeof setTimeout> | null = null;
  #abort: AbortController | null = null;
  #loadedAt = 0;

  constructor(motor: string, sensors: readonly string[], span: Span, isFollowing: boolean) {
    this.#motor = motor;
    this.#sensors = sensors;
    this.span.value = this.settled.value = span;
    this.isFollowing.value = isFollowing;
    void this.load();
  }

  /** Shows another span. One that reaches now is followed from then on. */
  show(span: Span): void {
    const kept = keepInTime(span, readNow());
    batch(() => {
      this.span.value = kept;
      this.isFollowing.value = isAtNow(kept, readNow());
    });
    this.#plan();
  }

  /** Moves on with the time; called each second. */
  tick(): void {
    if (!this.isFollowing.value) return;
    const { from, to } = this.span.value;
    const next = endNow(to - from, readNow());
    // less than a pixel is not worth a picture
    if (next.to - to < (to - from) / 2_000) return;
    this.span.value = next;
    const bucketMs = this.loaded.value?.series[0]?.bucket_ms ?? 0;
    // a load that takes longer than that would never come to its end
    if (this.isLoading.value) return;
    if (Date.now() - this.#loadedAt > Math.max(RELOAD_LEAST_MS, bucketMs / 4)) void this.load();
  }

  setCursor(at: number | null): void {
    this.cursor.value = at === null ? null : Math.round(at);
  }

  /** Waits until the movement has stopped. */
  #plan(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#settle(), SETTLE_MS);
  }

  /** Loads, unless what is there will do. */
  #settle(): void {
    this.#timer = null;
    const { loaded, span } = this;
    const isThere = loaded.value !== null && isEnough(loaded.value.span, span.value, readNow());
    if (isThere) this.settled.value = { ...span.value };
    else void this.load();
  }

  /** A newer load takes the place of one that is under way. */
  async load(): Promise<void> {
    this.#abort?.abort();
    const abort = new AbortController();
    this.#abort = abort;
    this.#loadedAt = Date.now();
    this.isLoading.value = true;
    const span = loadingSpan(this.span.value);
    try {
      const [timeline, ...series] = await Promise.all([
        this.#fetchTimeline(span, abort.signal),
        ...this.#sensors.map((sensor) =>
          fetchBody<SeriesBody>('/series', { sensor, ...span, points: POINTS }, abort.signal),
        ),
      ]);
      batch(() => {
        this.loaded.value = { span, series, timeline };
        this.problem.value = null;
      });
      // what was asked for zoomed in may come when all is shown again
      if (this.#timer === null && !isEnough(span, this.span.value, readNow())) this.#plan();
    } catch (error) {
      if (!abort.signal.aborted) this.problem.value = toProblem(error);
    } finally {
      if (this.#abort === abort) this.#finish(abort.signal.aborted);
    }
  }

  #finish(isClosed: boolean): void {
    batch(() => {
      this.isLoading.value = false;
      if (!isClosed && this.#timer === null) this.settled.value = { ...this.span.value };
    });
  }

  #fetchTimeline(span: Span, abort: AbortSignal): Promise<TimelineBody> {
    const asked = { motor: this.#motor, ...span, points: CONDITION_POINTS, limit: MARKS_MOST };
    return fetchBody<TimelineBody>('/timeline', asked, abort);
  }

  close(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#abort?.abort();
  }
}
