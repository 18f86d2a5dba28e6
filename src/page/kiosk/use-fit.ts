/**
 * Fits the wall view into its screen: nobody can scroll a wall, and a motor below its edge would be one that nobody sees. The view
 * is drawn in the first of its steps that fits: full, tight, one line a motor, small lines in two sizes, and at last only what is abnormal.
 */
import type { RefObject } from 'preact';
import { useLayoutEffect, useRef } from 'preact/hooks';

const LAST_STEP = 5;

function fit(element: HTMLElement | null): void {
  if (element === null) return;
  for (let step = 0; step <= LAST_STEP; step++) {
    element.dataset['fit'] = String(step);
    if (element.scrollHeight <= innerHeight) return;
  }
}

/** For the element that is returned: whenever what is in it, or the screen, has another size. */
export function useFit(): RefObject<HTMLElement | null> {
  const place = useRef<HTMLElement>(null);
  useLayoutEffect(() => {
    fit(place.current);
    const again = (): void => void requestAnimationFrame(() => fit(place.current));
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
