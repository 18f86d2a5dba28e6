/**
 * One ratio of rates from many bins of like conditions: each bin compares its own two sides, and only then the bins are added, so
 * that a side that ran more often under hard conditions is not blamed for it.
 */

/**
 * Two sides in one bin. Exposures above 0, the same unit everywhere; φ ≥ 1 of each side in this bin, with the degrees of freedom it was
 * estimated with; Infinity: it is known.
 */
export interface Stratum {
  readonly pulsesA: number;
  readonly exposureA: number;
  readonly phiA: number;
  readonly freedomA: number;
  readonly pulsesB: number;
  readonly exposureB: number;
  readonly phiB: number;
  readonly freedomB: number;
}

export interface StratifiedRatio {
  /** a / b; 0: no pulses in a; Infinity: none in b; NaN: none at all */
  ratio: number;
  /** variance of ln ratio with the dispersions; Infinity where the ratio is 0, Infinity or NaN */
  lnVariance: number;
  /** the same if all counts were Poisson: `lnVariance` over it is the dispersion that the comparison had */
  lnVariancePoisson: number;
  /** degrees of freedom of `lnVariance`, for Student's t; Infinity where every φ is known */
  freedom: number;
}

/**
 * The weighted ratio of rates Σ Xa Tb/T over Σ Xb Ta/T. Source: K. J. Rothman, S. Greenland and T. L. Lash, Modern Epidemiology,
 * chapter on stratified analysis, person-time data. NaN as `ratio` says.
 */
export function stratifiedRatio(
  strata: readonly Pick<Stratum, 'pulsesA' | 'exposureA' | 'pulsesB' | 'exposureB'>[],
): number {
  let a = 0;
  let b = 0;
  for (const { pulsesA, exposureA, pulsesB, exposureB } of strata) {
    const whole = exposureA + exposureB;
    a += (pulsesA * exposureB) / whole;
    b += (pulsesB * exposureA) / whole;
  }
  return a / b;
}

/**
 * Ratio with the variance of its logarithm. Each side of a bin adds its own variance, φ times its expected pulses, the expectation
 * taken from the other side through the common ratio: Σ Ta Tb (φa Xb + φb Xa)/T² over Σ Xa Tb/T · Σ Xb Ta/T. With one bin that is
 * φa/Xa + φb/Xb; with every φ = 1 it is the formula of the source.
 * Source: S. Greenland and J. M. Robins, Estimation of a common effect parameter from sparse follow-up data, Biometrics 41 (1985)
 * 55-68; a φ for each side in place of their one Poisson variance is our extension. Degrees of freedom: F. E. Satterthwaite,
 * Biometrics Bulletin 2 (1946) 110-114.
 */
export function compareStrata(strata: readonly Stratum[]): StratifiedRatio {
  let a = 0;
  let b = 0;
  let spread = 0;
  let spreadPoisson = 0;
  let perFreedom = 0;
  for (const bin of strata) {
    const shareA = bin.exposureA / (bin.exposureA + bin.exposureB);
    const shareB = bin.exposureB / (bin.exposureA + bin.exposureB);
    a += bin.pulsesA * shareB;
    b += bin.pulsesB * shareA;
    const ofA = shareA * shareB * bin.phiA * bin.pulsesB;
    const ofB = shareA * shareB * bin.phiB * bin.pulsesA;
    spread += ofA + ofB;
    spreadPoisson += shareA * shareB * (bin.pulsesA + bin.pulsesB);
    perFreedom += ofA ** 2 / bin.freedomA + ofB ** 2 / bin.freedomB;
  }
  const isDefined = a > 0 && b > 0;
  return {
    ratio: a / b,
    lnVariance: isDefined ? spread / a / b : Infinity,
    lnVariancePoisson: isDefined ? spreadPoisson / a / b : Infinity,
    freedom: perFreedom > 0 ? spread ** 2 / perFreedom : Infinity,
  };
}

/**
 * The ratio at which the side without pulses would have had none with probability `tail`: Σ (Xi/φi) ln(1 + ρ Ti0/Ti) = −ln tail over
 * the bins, where Xi, Ti are of the side with pulses, Ti0 the exposure of the silent one, and φi the larger of the bin's two: a silent
 * side cannot tell its own. The limit of (silent / other); Infinity without pulses on either side.
 * Source: the exact conditional limit at a count of 0 (binomial, J. Przyborowski and H. Wilenski 1940), carried over bins as the
 * product of their probabilities; φ as in quasi-Poisson limits, our choice.
 */
export function silentSideLimit(
  bins: readonly { pulses: number; exposure: number; silentExposure: number; phi: number }[],
  tail: number,
): number {
  const wanted = -Math.log(tail);
  const reach = (ratio: number): number =>
    bins.reduce(
      (sum, bin) => sum + (bin.pulses / bin.phi) * Math.log1p((ratio * bin.silentExposure) / bin.exposure),
      0,
    );
  if (!bins.some((bin) => bin.pulses > 0)) return Infinity;
  let high = 1;
  while (reach(high) < wanted && high < 1e300) high *= 4;
  let low = 0;
  for (let i = 0; i < 200 && high - low > 1e-13 * high; i++) {
    const middle = (low + high) / 2;
    if (reach(middle) < wanted) low = middle;
    else high = middle;
  }
  return high;
}
