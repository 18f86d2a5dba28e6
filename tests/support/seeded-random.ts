/** Numbers from a seed, so that a run can be had again. Source: xorshift32 (Marsaglia 2003, triple 13, 17, 5). */
export function seedRandom(seed: number): () => number {
  let x = (Math.imul(seed, 0x9e3779b1) ^ 0x5bd1e995) >>> 0 || 1;
  return () => {
    x ^= x << 13;
    x >>>= 0;
    x ^= x >>> 17;
    x ^= x << 5;
    x >>>= 0;
    return x / 0x1_0000_0000;
  };
}
