/** Works through a list a few at a time; answers in its order. Rejects with the first that does. */
export async function mapFew<T, R>(
  items: readonly T[],
  atOnce: number,
  work: (item: T) => Promise<R>,
): Promise<R[]> {
  const results: R[] = [];
  let next = 0;
  const walk = async (): Promise<void> => {
    while (next < items.length) {
      const place = next++;
      results[place] = await work(items[place]!);
    }
  };
  await Promise.all(Array.from({ length: Math.min(atOnce, items.length) }, walk));
  return results;
}
