/** Systems of linear equations and quadrature, for run lengths of charts. */

/**
 * x with A x = b, by elimination with row pivots. A is square, its rows are overwritten, as is b. Throws RangeError where A is singular.
 * Source: G. H. Golub and C. F. Van Loan, Matrix Computations, section 3.4.
 */
export function solveLinear(a: number[][], b: number[]): number[] {
  const n = b.length;
  for (let column = 0; column < n; column++) {
    let pivot = column;
    for (let row = column + 1; row < n; row++) {
      if (Math.abs(a[row]![column]!) > Math.abs(a[pivot]![column]!)) pivot = row;
    }
    if (!(Math.abs(a[pivot]![column]!) > 0)) throw new RangeError('solveLinear: the system is singular');
    [a[column], a[pivot]] = [a[pivot]!, a[column]!];
    [b[column], b[pivot]] = [b[pivot]!, b[column]!];
    const top = a[column]!;
    for (let row = column + 1; row < n; row++) {
      const below = a[row]!;
      const factor = below[column]! / top[column]!;
      if (factor === 0) continue;
      for (let i = column; i < n; i++) below[i]! -= factor * top[i]!;
      b[row]! -= factor * b[column]!;
    }
  }
  const x = new Array<number>(n).fill(0);
  for (let row = n - 1; row >= 0; row--) {
    let sum = b[row]!;
    for (let i = row + 1; i < n; i++) sum -= a[row]![i]! * x[i]!;
    x[row] = sum / a[row]![row]!;
  }
  return x;
}

/**
 * Nodes and weights on [from, to] that integrate polynomials up to degree 2n − 1 exactly. n ≥ 1.
 * Source: Gauss-Legendre rule, DLMF 3.5(v): zeros of P(n) by Newton's method.
 */
export function gaussLegendre(n: number, from: number, to: number): { x: number[]; w: number[] } {
  const x = new Array<number>(n).fill(0);
  const w = new Array<number>(n).fill(0);
  const half = (to - from) / 2;
  for (let i = 0; i < n; i++) {
    let z = Math.cos((Math.PI * (i + 0.75)) / (n + 0.5));
    let slope = 1;
    for (let step = 0; step < 100; step++) {
      let value = 1;
      let before = 0;
      for (let k = 1; k <= n; k++)
        [value, before] = [((2 * k - 1) * z * value - (k - 1) * before) / k, value];
      slope = (n * (z * value - before)) / (z * z - 1);
      const move = value / slope;
      z -= move;
      if (Math.abs(move) < 1e-15) break;
    }
    x[n - 1 - i] = from + half * (1 + z);
    w[n - 1 - i] = (2 * half) / ((1 - z * z) * slope * slope);
  }
  return { x, w };
}
