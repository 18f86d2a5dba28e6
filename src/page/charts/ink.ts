/** The page's colours as a canvas needs them, read from the style sheet; they change with the theme. */

export interface Ink {
  readonly ink: string;
  readonly quiet: string;
  readonly line: string;
  readonly trace: string;
  readonly soft: string;
  readonly medium: string;
  readonly high: string;
  readonly low: string;
  readonly raised: string;
}

export function readInk(): Ink {
  const style = getComputedStyle(document.documentElement);
  const of = (name: string): string => style.getPropertyValue(name).trim();
  return {
    ...{ ink: of('--ink'), quiet: of('--ink-quiet'), line: of('--line'), trace: of('--trace') },
    ...{ soft: of('--trace-soft'), medium: of('--medium'), high: of('--high'), low: of('--low') },
    raised: of('--raised'),
  };
}

/** Calls back when the theme has changed, by choice or by the system. Returns the function that ends it. */
export function onThemeChange(listener: () => void): () => void {
  const observer = new MutationObserver(listener);
  observer.observe(document.documentElement, { attributes: true, attributeFilter: ['data-theme'] });
  const media = matchMedia('(prefers-color-scheme: dark)');
  media.addEventListener('change', listener);
  return () => {
    observer.disconnect();
    media.removeEventListener('change', listener);
  };
}

export function withAlpha(colour: string, alpha: number): string {
  const [r = 0, g = 0, b = 0] = [1, 3, 5].map((i) => parseInt(colour.slice(i, i + 2), 16));
  return `rgb(${r} ${g} ${b} / ${alpha})`;
}
