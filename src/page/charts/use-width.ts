/**
 * How wide an element is, so that a picture in it is drawn at its true size and its letters are as large as all others: on a big screen
 * too, where the page's letters grow, for the width is counted in px of a page whose letters have 16.
 */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { RefObject } from 'preact';

const LETTER_PX = 16;

/** `first`: until it has been measured, px. */
export function useWidth(first: number): [RefObject<HTMLDivElement | null>, number] {
  const place = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(first);
  useEffect(() => {
    if (place.current === null) return undefined;
    const observer = new ResizeObserver(([entry]) => {
      if (entry === undefined || !(entry.contentRect.width > 0)) return;
      const letter = Number.parseFloat(getComputedStyle(document.documentElement).fontSize) || LETTER_PX;
      setWidth(Math.round((entry.contentRect.width * LETTER_PX) / Math.max(LETTER_PX, letter)));
    });
    observer.observe(place.current);
    return () => observer.disconnect();
  }, []);
  return [place, width];
}
