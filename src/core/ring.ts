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

export class WindowRing {
  readonly size: number;
  private readonly ids: Float64Array;
  private readonly pulses: Float64Array;
  private readonly ms: Float64Array;
  private readonly left: Uint8Array;
  /** condition bins of the windows; null: all windows are of the one bin '' */
  private bins: string[] | null = null;

  /** `gapWindows`: distance kept between a window and the newest one that predicts it. */
  constructor(readonly gapWindows: number) {
    this.size = HOUR_WINDOWS + 2 * gapWindows + 16;
    this.ids = new Float64Array(this.size).fill(-1);
    this.pulses = new Float64Array(this.size);
    this.ms = new Float64Array(this.size);
    this.left = new Uint8Array(this.size);
  }

  /**
   * Sets one window (number: ms / 10,000): running pulses and exposure; `common`: it is left out of predictions. A window
   * is predicted from those of its own condition bin.
   */
  set(window: number, pulses: number, ms: number, common: boolean, bin: string): void {
    const i = window % this.size;
    const before = this.ids[i]!;
    if (before > window) return;
    const inside =
      this.sumAt >= 0 &&
      window < this.sumAt - this.gapWindows &&
      window >= this.sumAt - this.gapWindows - HOUR_WINDOWS;
    if (inside) this.sumAt = -1;
    this.ids[i] = window;
    this.pulses[i] = pulses;
    this.ms[i] = ms;
    this.left[i] = common ? 1 : 0;
    if (this.bins !== null) this.bins[i] = bin;
    else if (bin !== '') {
      this.bins = new Array<string>(this.size).fill('');
      this.bins[i] = bin;
    }
  }

  binAt(window: number): string {
    const i = window % this.size;
    return this.bins === null || this.ids[i] !== window ? '' : this.bins[i]!;
  }

  /** Whether any window has a condition bin. */
  hasBins(): boolean {
    return this.bins !== null;
  }

  pulsesAt(window: number): number {
    const i = window % this.size;
    return this.ids[i] === window ? this.pulses[i]! : 0;
  }

  msAt(window: number): number {
    const i = window % this.size;
    return this.ids[i] === window ? this.ms[i]! : 0;
  }

  isUsable(window: number): boolean {
    const i = window % this.size;
    return this.ids[i] === window && this.ms[i]! > 0 && this.left[i] === 0;
  }

  /** Usable windows, their pulses and ms, of the hour that predicts `window`. */
  private sumAt = -1;
  private sumBin = '';
  private count = 0;
  private sumPulses = 0;
  private sumMs = 0;
  private sumSquares = 0;

  private addUp(window: number, sign: 1 | -1): void {
    if (window < 0 || !this.isUsable(window)) return;
    if (this.bins !== null && this.binAt(window) !== this.sumBin) return;
    this.count += sign;
    this.sumPulses += sign * this.pulsesAt(window);
    const ms = this.msAt(window);
    const pulses = this.pulsesAt(window);
    this.sumMs += sign * ms;
    this.sumSquares += sign * Math.round((SQUARE_SCALE * pulses * pulses) / ms);
  }

  private moveTo(window: number): void {
    const end = window - this.gapWindows;
    const bin = this.binAt(window);
    const known =
      this.sumAt >= 0 &&
      window >= this.sumAt &&
      window - this.sumAt <= this.gapWindows &&
      bin === this.sumBin;
    if (!known) {
      this.sumBin = bin;
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
