/** The cursor of the time chart while the chart goes with the time, without a browser. */
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { readNow } from '../../src/page/data/clock.js';
import { zoomBy } from '../../src/page/motor/chart-gestures.js';
import { ChartModel } from '../../src/page/motor/chart-model.js';

const HOUR_MS = 3_600_000;

describe('a cursor that somebody left on a chart that follows', () => {
  beforeEach(() => {
    vi.useFakeTimers();
    vi.stubGlobal('fetch', () => new Promise(() => undefined));
  });
  afterEach(() => {
    vi.useRealTimers();
    vi.unstubAllGlobals();
  });

  function openChart(): ChartModel {
    const to = readNow();
    return new ChartModel('fan-1', [], { from: to - HOUR_MS, to }, true);
  }

  it('is there as long as it is seen, and again when the chart is moved back to it', () => {
    const model = openChart();
    const span = model.span.value;
    model.setCursor(span.from + HOUR_MS / 2);
    expect(model.seenCursor.value).toBe(Math.round(span.from + HOUR_MS / 2));
    vi.advanceTimersByTime(HOUR_MS);
    model.tick();
    // what is loaded says nothing of that time any more
    expect(model.seenCursor.value).toBeNull();
    model.show(span);
    expect(model.seenCursor.value).toBe(Math.round(span.from + HOUR_MS / 2));
    model.close();
  });

  it('does not end the following when the chart is zoomed after it has gone on', () => {
    const model = openChart();
    model.setCursor(model.span.value.from + HOUR_MS / 2);
    vi.advanceTimersByTime(HOUR_MS);
    model.tick();
    zoomBy(model, 2);
    expect(model.isFollowing.value).toBe(true);
    model.close();
  });
});
