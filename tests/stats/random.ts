/** Seeded randomness for the tests of this folder. */

/**
 * Numbers in (0, 1), the same for the same seed.
 * Source: xorshift of G. Marsaglia, Journal of Statistical Software 8 (2003), triple 13, 17, 5.
 */
export function seededRandom(seed: number): () => number {
  let state = (seed * 2654435761) >>> 0 || 1;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return ((state >>> 0) + 0.5) / 2 ** 32;
  };
}

/** A Poisson count of that mean, by multiplying uniform numbers (D. Knuth), in pieces of at most 30. */
export function drawPoisson(random: () => number, mean: number): number {
  let count = 0;
  for (let left = mean; left > 0; left -= 30) {
    const floor = Math.exp(-Math.min(left, 30));
    for (let product = random(); product > floor; product *= random()) count += 1;
  }
  return count;
}
