/**
 * A sensor's own running windows of the last hour and a little more, by base window, in fixed memory. From them a
 * common burst is predicted, and the dispersion within an hour is found. Sums are integers, so the order in which
 * windows came never shows in them.
 */
import { negativeBinomialUpperTail } from '../stats/negative-binomial.js';

/** Windows in the hour that predicts. */
export const HOUR_WINDOWS = 360;
/** Milliseconds in a base window. */
export const WINDOW_MS = 10_000;

/** Squares over exposure are summed as integers of this scale, so that the order of adding never shows. */
const SQUARE_SCALE = 1e6;

/** Places of a window in the ring: its number (−1: none yet), pulses, ms, and whether it is left out of predictions. */
const ID = 0;
const PULSES = 1;
const MS = 2;
const LEFT_OUT = 3;
const PLACES = 4;

export class WindowRing {
  readonly size: number;
  /** side by side, because what is read of a window is read together */
  private readonly slots: Float64Array;
  /** condition bins of the windows; null: all windows are of the one bin '' */
  private bins: string[] | null = null;
  /** the bin that the sums below are of */
  private sumBin = '';
  /** the window whose prediction the sums below hold; −1: none */
  private sumAt = -1;
  /** usable windows, their pulses, ms and scaled squares over ms */
  private count = 0;
  private sumPulses = 0;
  private sumMs = 0;
  private sumSquares = 0;

  /** `gapWindows`: distance kept between a window and the newest one that predicts it. */
  constructor(readonly gapWindows: number) {
    this.size = HOUR_WINDOWS + 2 * gapWindows + 16;
    this.slots = new Float64Array(this.size * PLACES).fill(-1);
  }

  /**
   * Sets one window (number: ms / 10,000): running pulses and exposure; `common`: it is left out of predictions. A window
   * is predicted from those of its own condition bin.
   */
  set(window: number, pulses: number, ms: number, common: boolean, bin: string): void {
    const { slots, sumAt, gapWindows } = this;
    const at = (window % this.size) * PLACES;
    if (slots[at + ID]! > window) return;
    const end = sumAt - gapWindows;
    if (sumAt >= 0 && window < end && window >= end - HOUR_WINDOWS) this.sumAt = -1;
    slots[at + ID] = window;
    slots[at + PULSES] = pulses;
    slots[at + MS] = ms;
    slots[at + LEFT_OUT] = common ? 1 : 0;
    if (bin === '' && this.bins === null) return;
    this.bins ??= new Array<string>(this.size).fill('');
    this.bins[window % this.size] = bin;
  }

  binAt(window: number): string {
    if (this.bins === null) return '';
    const i = window % this.size;
    return this.slots[i * PLACES + ID] === window ? this.bins[i]! : '';
  }

  /** Whether any window has a condition bin. */
  hasBins(): boolean {
    return this.bins !== null;
  }

  pulsesAt(window: number): number {
    const at = (window % this.size) * PLACES;
    return this.slots[at + ID] === window ? this.slots[at + PULSES]! : 0;
  }

  msAt(window: number): number {
    const at = (window % this.size) * PLACES;
    return this.slots[at + ID] === window ? this.slots[at + MS]! : 0;
  }

  isUsable(window: number): boolean {
    return this.slotOf(window) >= 0;
  }

  /** Where a window that may predict stands, for `pulsesIn` and `msIn`; −1: it is unknown, empty or left out. */
  slotOf(window: number): number {
    const { slots } = this;
    const at = (window % this.size) * PLACES;
    return slots[at + ID] === window && slots[at + MS]! > 0 && slots[at + LEFT_OUT] === 0 ? at : -1;
  }

  pulsesIn(slot: number): number {
    return this.slots[slot + PULSES]!;
  }

  msIn(slot: number): number {
    return this.slots[slot + MS]!;
  }

  private addUp(window: number, sign: 1 | -1): void {
    const slot = window < 0 ? -1 : this.slotOf(window);
    if (slot < 0 || (this.bins !== null && this.binAt(window) !== this.sumBin)) return;
    const pulses = this.pulsesIn(slot);
    const ms = this.msIn(slot);
    this.count += sign;
    this.sumPulses += sign * pulses;
    this.sumMs += sign * ms;
    this.sumSquares += sign * Math.round((SQUARE_SCALE * pulses * pulses) / ms);
  }

  /** The sums are those of the hour that predicts `window`. */
  private moveTo(window: number): void {
    const isSameBin = this.bins === null || this.binAt(window) === this.sumBin;
    if (window === this.sumAt && isSameBin) return;
    const end = window - this.gapWindows;
    const isNear = this.sumAt >= 0 && window >= this.sumAt && window - this.sumAt <= this.gapWindows;
    if (!isNear || !isSameBin) {
      this.sumBin = this.binAt(window);
      this.count = 0;
      this.sumPulses = 0;
      this.sumMs = 0;
      this.sumSquares = 0;
      for (let w = end - HOUR_WINDOWS; w < end; w++) this.addUp(w, 1);
    } else {
      for (let w = this.sumAt; w < window; w++) {
        this.addUp(w - this.gapWindows - HOUR_WINDOWS, -1);
        this.addUp(w - this.gapWindows, 1);
      }
    }
    this.sumAt = window;
  }

  /** How many windows of its condition bin speak for the prediction of `window`. */
  countBefore(window: number): number {
    this.moveTo(window);
    return this.count;
  }

  /** Whether the window's own count exceeds its prediction: upper tail below `tail`, dispersion allowed for. */
  isBurst(window: number, tail: number): boolean {
    this.moveTo(window);
    const ms = this.msAt(window);
    const pulses = this.pulsesAt(window);
    if (ms === 0 || pulses === 0 || this.sumMs === 0) return false;
    const rate = Math.max(this.sumPulses, 0.5) / this.sumMs;
    const mean = rate * ms;
    if (pulses <= mean + 3 * Math.sqrt(mean)) return false;
    return negativeBinomialUpperTail(pulses, mean, this.dispersion(rate)) < tail;
  }

  /** Pearson dispersion of the predicting windows around their common rate, never below 1. */
  private dispersion(rate: number): number {
    if (this.count < 2) return 1;
    return Math.max(1, (this.sumSquares / SQUARE_SCALE / rate - this.sumPulses) / (this.count - 1));
  }
}
