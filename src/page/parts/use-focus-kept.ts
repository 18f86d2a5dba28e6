/**
 * Keeps the focus in a list whose items come and go by themselves: when what had it is gone, or was moved, the item that has taken its
 * place gets it, or the heading when none is left. Otherwise whoever works by keyboard or by ear would begin at the top of the page.
 */
import type { RefObject } from 'preact';
import { useEffect, useLayoutEffect, useRef } from 'preact/hooks';

const PRESSABLE = 'a[href], button, input, summary';

interface Memory {
  readonly element: HTMLElement;
  /** among the items, as it was shown last */
  place: number;
}

/** `list` holds the items, which `item` selects, and an `h1` that can take the focus. */
export function useFocusKept(list: RefObject<HTMLElement | null>, item: string): void {
  const memory = useRef<Memory | null>(null);
  const placeOf = (element: HTMLElement): number =>
    listItems(list.current, item).findIndex((each) => each.contains(element));
  useEffect(() => {
    const take = ({ target }: FocusEvent): void => {
      const isHere = target instanceof HTMLElement && list.current?.contains(target) === true;
      memory.current = isHere ? { element: target, place: placeOf(target) } : null;
    };
    // a touch beside everything takes the focus away on purpose
    const forget = (): void => void (memory.current = null);
    document.addEventListener('focusin', take);
    document.addEventListener('pointerdown', forget);
    return () => {
      document.removeEventListener('focusin', take);
      document.removeEventListener('pointerdown', forget);
    };
  }, []);
  useLayoutEffect(() => {
    const last = memory.current;
    if (last === null) return;
    const isThere = last.element.isConnected;
    if (isThere) last.place = placeOf(last.element);
    if (document.activeElement !== document.body) return;
    if (isThere) return last.element.focus();
    const items = listItems(list.current, item);
    const next = items[Math.min(Math.max(last.place, 0), items.length - 1)];
    (next?.querySelector<HTMLElement>(PRESSABLE) ?? list.current?.querySelector('h1'))?.focus();
  });
}

function listItems(list: HTMLElement | null, item: string): HTMLElement[] {
  return [...(list?.querySelectorAll<HTMLElement>(item) ?? [])].filter((each) => each.checkVisibility());
}
