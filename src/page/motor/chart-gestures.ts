/** Wheel, drag, touch and keys on the time chart, as changes of its span and cursor. */
import { endNow, moveSpan, zoomSpan } from '../charts/span.js';
import { readNow } from '../data/clock.js';
import type { ChartModel } from './chart-model.js';

const WHEEL_ZOOM = 0.0018;
const STEP_ZOOM = 1.6;
const PAN_SHARE = 0.2;
/** One step of the cursor by key, as a share of the span. */
const CURSOR_SHARE = 1 / 200;

/** Distance of the plot from the left and the right edge of the element. */
export interface PlotEdges {
  readonly leftPx: number;
  readonly rightPx: number;
}

function timeAt(
  model: ChartModel,
  root: HTMLElement,
  clientX: number,
  { leftPx, rightPx }: PlotEdges,
): number {
  const box = root.getBoundingClientRect();
  const width = box.width - leftPx - rightPx;
  const { from, to } = model.span.value;
  return from + ((clientX - box.left - leftPx) / width) * (to - from);
}

export function zoomBy(model: ChartModel, factor: number): void {
  const { from, to } = model.span.value;
  const cursor = model.seenCursor.value;
  const middle = cursor ?? (from + to) / 2;
  // what follows the time keeps doing so: it zooms about now
  const at = model.isFollowing.value && cursor === null ? to : middle;
  model.show(zoomSpan({ from, to }, at, factor, readNow()));
}

export function panBy(model: ChartModel, share: number): void {
  model.show(moveSpan(model.span.value, share, readNow()));
}

export const STEP = { zoom: STEP_ZOOM, pan: PAN_SHARE } as const;

function moveCursor(model: ChartModel, steps: number): void {
  const { from, to } = model.span.value;
  const at = (model.seenCursor.value ?? (from + to) / 2) + steps * CURSOR_SHARE * (to - from);
  model.setCursor(Math.min(to, Math.max(from, at)));
}

function endOfSpan(model: ChartModel): void {
  const { from, to } = model.span.value;
  model.show(endNow(to - from, readNow()));
}

/** What each key does; the same is told under the chart. */
function actOn(model: ChartModel, event: KeyboardEvent): boolean {
  const { from, to } = model.span.value;
  // with Control the browser zooms the page and marks its text
  if (event.ctrlKey && !event.key.startsWith('Arrow')) return false;
  switch (event.key) {
    case 'ArrowLeft':
    case 'ArrowRight': {
      const sign = event.key === 'ArrowLeft' ? -1 : 1;
      if (event.shiftKey) panBy(model, sign * PAN_SHARE);
      else moveCursor(model, sign * (event.ctrlKey ? 10 : 1));
      return true;
    }
    case '+':
    case '=':
      zoomBy(model, STEP_ZOOM);
      return true;
    case '-':
    case '_':
      zoomBy(model, 1 / STEP_ZOOM);
      return true;
    case 'Home':
      model.setCursor(from);
      return true;
    case 'End':
      endOfSpan(model);
      return true;
    case 'PageUp':
    case 'PageDown':
      panBy(model, event.key === 'PageUp' ? -1 : 1);
      return true;
    case 'a':
    case 'b':
      (event.key === 'a' ? model.markA : model.markB).value =
        model.seenCursor.value ?? Math.round((from + to) / 2);
      return true;
    case 'Escape':
      model.markA.value = model.markB.value = null;
      model.setCursor(null);
      return true;
    default:
      return false;
  }
}

/** A press that moves by more is a drag. */
const CLICK_PX = 4;

/** Where somebody clicked or tapped, the cursor stays when the pointer goes elsewhere: to the buttons that set a mark, for instance. */
export class Pin {
  #at: number | null = null;

  constructor(readonly model: ChartModel) {}

  /** What the pointer says; null: it left. */
  point(at: number | null): void {
    const { from, to } = this.model.span.peek();
    const isSeen = this.#at !== null && this.#at >= from && this.#at <= to;
    this.model.setCursor(at ?? (isSeen ? this.#at : null));
  }

  /** Returns the function that ends it. */
  follow(root: HTMLElement, edges: PlotEdges): () => void {
    let downX = 0;
    const onDown = (event: PointerEvent): void => void (downX = event.clientX);
    const onClick = (event: MouseEvent): void => {
      if (Math.abs(event.clientX - downX) > CLICK_PX) return;
      this.#at = Math.round(timeAt(this.model, root, event.clientX, edges));
      this.point(null);
    };
    const onKey = ({ key }: KeyboardEvent): void => {
      if (key === 'Escape') this.#at = null;
    };
    root.addEventListener('pointerdown', onDown);
    root.addEventListener('click', onClick);
    root.addEventListener('keydown', onKey);
    return () => {
      root.removeEventListener('pointerdown', onDown);
      root.removeEventListener('click', onClick);
      root.removeEventListener('keydown', onKey);
    };
  }
}

/** Returns the function that ends it. */
export function followGestures(model: ChartModel, root: HTMLElement, edges: PlotEdges): () => void {
  const onKey = (event: KeyboardEvent): void => {
    if (event.target !== root || event.metaKey || event.altKey) return;
    if (actOn(model, event)) event.preventDefault();
  };
  const onWheel = (event: WheelEvent): void => {
    event.preventDefault();
    const isSideways = event.shiftKey || Math.abs(event.deltaX) > Math.abs(event.deltaY);
    if (isSideways) {
      panBy(model, ((event.deltaX || event.deltaY) / Math.max(200, root.clientWidth)) * 0.8);
      return;
    }
    const at = timeAt(model, root, event.clientX, edges);
    const factor = Math.exp(-event.deltaY * WHEEL_ZOOM);
    model.show(zoomSpan(model.span.value, at, factor, readNow()));
  };
  root.addEventListener('keydown', onKey);
  root.addEventListener('wheel', onWheel, { passive: false });
  const endTouch = followTouch(model, root, edges);
  return () => {
    root.removeEventListener('keydown', onKey);
    root.removeEventListener('wheel', onWheel);
    endTouch();
  };
}

/** One finger moves the chart, two zoom it; up and down the page scrolls as ever (touch-action in the style sheet). */
function followTouch(model: ChartModel, root: HTMLElement, edges: PlotEdges): () => void {
  const fingers = new Map<number, number>();
  const onDown = (event: PointerEvent): void => {
    if (event.pointerType === 'touch') fingers.set(event.pointerId, event.clientX);
  };
  const onMove = (event: PointerEvent): void => {
    const before = fingers.get(event.pointerId);
    if (before === undefined) return;
    const width = Math.max(1, root.clientWidth - edges.leftPx - edges.rightPx);
    if (fingers.size === 1) panBy(model, (before - event.clientX) / width);
    else {
      const other = [...fingers].find(([id]) => id !== event.pointerId)![1];
      const factor = Math.max(20, Math.abs(event.clientX - other)) / Math.max(20, Math.abs(before - other));
      const at = timeAt(model, root, (event.clientX + other) / 2, edges);
      model.show(zoomSpan(model.span.value, at, factor, readNow()));
    }
    fingers.set(event.pointerId, event.clientX);
  };
  const onUp = (event: PointerEvent): void => void fingers.delete(event.pointerId);
  const kinds = [
    ['pointerdown', onDown],
    ['pointermove', onMove],
    ['pointerup', onUp],
    ['pointercancel', onUp],
  ] as const;
  for (const [kind, listener] of kinds) root.addEventListener(kind, listener);
  return () => {
    for (const [kind, listener] of kinds) root.removeEventListener(kind, listener);
  };
}
