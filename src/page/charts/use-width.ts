/** How wide an element is, so that a picture in it is drawn at its true size and its letters are as large as all others. */
import { useEffect, useRef, useState } from 'preact/hooks';
import type { RefObject } from 'preact';

/** `first`: until it has been measured, px. */
export function useWidth(first: number): [RefObject<HTMLDivElement | null>, number] {
  const place = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(first);
  useEffect(() => {
    if (place.current === null) return undefined;
    const observer = new ResizeObserver(([entry]) => {
      if (entry !== undefined && entry.contentRect.width > 0) setWidth(Math.round(entry.contentRect.width));
    });
    observer.observe(place.current);
    return () => observer.disconnect();
  }, []);
  return [place, width];
}
