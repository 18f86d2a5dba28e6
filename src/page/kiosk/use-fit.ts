/**
 * Fits the wall view into its screen: nobody can scroll a wall, and a motor below its edge would be one that nobody sees. The view
 * is drawn in the first of its steps that fits: full, tight, one line a motor, small lines in two sizes, and
 * only what is abnormal. Where even that is too much, it says how much is missing.
 */
import type { RefObject } from 'preact';
import { useLayoutEffect, useRef } from 'preact/hooks';

const LAST_STEP = 5;

/** `item` selects what may be left out at last, from the end; `left` what then says how many. */
function fit(element: HTMLElement | null, item: string, left: string): void {
  if (element === null) return;
  let items = [...element.querySelectorAll<HTMLElement>(item)];
  const says = element.querySelector<HTMLElement>(left);
  const keep = (count: number): void => {
    items.forEach((each, place) => (each.hidden = place >= count));
    if (says !== null) says.textContent = String(items.length - count);
    element.toggleAttribute('data-cut', count < items.length);
  };
  const isFitting = (): boolean => element.scrollHeight <= innerHeight;
  keep(items.length);
  for (let step = 0; step <= LAST_STEP; step++) {
    element.dataset['fit'] = String(step);
    if (isFitting()) return;
  }
  // what the last step leaves out by itself takes no room, and is not missing
  items = items.filter((each) => each.getClientRects().length > 0);
  let [fits, tooMany] = [0, items.length];
  while (tooMany - fits > 1) {
    const middle = Math.floor((fits + tooMany) / 2);
    keep(middle);
    if (isFitting()) fits = middle;
    else tooMany = middle;
  }
  keep(fits);
  // smaller than any wall: whoever reads it there scrolls
  if (!isFitting()) keep(items.length);
}

/** For the element that is returned: whenever what is in it, or the screen, has another size. */
export function useFit(item: string, left: string): RefObject<HTMLElement | null> {
  const place = useRef<HTMLElement>(null);
  useLayoutEffect(() => {
    const again = (): void => void requestAnimationFrame(() => fit(place.current, item, left));
    fit(place.current, item, left);
    const observer = new ResizeObserver(again);
    if (place.current !== null) observer.observe(place.current);
    addEventListener('resize', again);
    return () => {
      observer.disconnect();
      removeEventListener('resize', again);
    };
  }, []);
  return place;
}
