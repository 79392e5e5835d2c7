/**
 * The normal distribution. Tails matter here (a false alarm once in years is a tail of 1e-5), so the formulas hold
 * relative, not only absolute, precision there.
 */

/** Density of the standard normal distribution. */
function normalDensity(z: number): number {
  return Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI);
}

/**
 * Upper tail P(Z > z). Within 2.5 of the middle the series z + z³/3 + z⁵/15 + ... (Abramowitz and Stegun 26.2.11),
 * beyond it the continued fraction of 26.2.14; relative error below 1e-12.
 */
export function normalUpperTail(z: number): number {
  if (Number.isNaN(z)) return Number.NaN;
  if (z < 0) return 1 - normalUpperTail(-z);
  if (z > 38) return 0;
  if (z < 2.5) {
    let term = z;
    let sum = z;
    for (let k = 1; term > sum * 1e-17; k++) {
      term *= (z * z) / (2 * k + 1);
      sum += term;
    }
    return 0.5 - normalDensity(z) * sum;
  }
  let fraction = 0;
  for (let k = 120; k > 0; k--) fraction = k / (z + fraction);
  return normalDensity(z) / (z + fraction);
}

/** P(Z <= z). */
export function normalBelow(z: number): number {
  return normalUpperTail(-z);
}

/**
 * z with P(Z <= z) = `probability`, by Newton's steps on the logarithm of the tail, which converge from every start
 * because the normal distribution is log-concave.
 *
 * @throws RangeError unless 0 < probability < 1
 */
export function normalQuantile(probability: number): number {
  if (!(probability > 0 && probability < 1)) {
    throw new RangeError(`normal quantile needs a probability between 0 and 1, got ${probability}`);
  }
  if (probability === 0.5) return 0;
  if (probability < 0.5) return -upperQuantile(probability);
  return upperQuantile(1 - probability);
}

function upperQuantile(tail: number): number {
  let z = Math.sqrt(-2 * Math.log(tail)) * 0.8;
  for (let i = 0; i < 60; i++) {
    const p = normalUpperTail(z);
    const step = (Math.log(p / tail) * p) / normalDensity(z);
    z += step;
    if (Math.abs(step) < 1e-14 * Math.max(1, z)) break;
  }
  return z;
}

/** Nodes and weights of Gauss and Legendre's rule with 20 points on [-1, 1] (positive half). */
const NODES = [
  0.07652652113349734, 0.22778585114164507, 0.37370608871541955, 0.5108670019508271, 0.636053680726515,
  0.7463319064601508, 0.8391169718222188, 0.912234428251326, 0.9639719272779138, 0.9931285991850949,
];
const WEIGHTS = [
  0.15275338713072584, 0.14917298647260374, 0.14209610931838204, 0.13168863844917664, 0.11819453196151841,
  0.10193011981724044, 0.08327674157670475, 0.06267204833410907, 0.04060142980038694, 0.017614007139152118,
];

/**
 * P(X > a and Y > b) for standard normal X, Y with this correlation.
 *
 * Plackett's identity: the derivative by the correlation r is the bivariate density, so the tail is
 * P(X>a) P(Y>b) + integral from 0 to r of exp(-(a² - 2abs + b²) / (2(1 - s²))) / (2 pi sqrt(1 - s²)) ds,
 * with s = sin(theta) to keep the integrand smooth (Genz 2004, "Numerical computation of rectangular bivariate and
 * trivariate normal and t probabilities", eq. 3; from memory).
 */
export function bivariateUpperTail(a: number, b: number, correlation: number): number {
  const independent = normalUpperTail(a) * normalUpperTail(b);
  if (correlation === 0 || a === Infinity || b === Infinity) return independent;
  if (a === -Infinity) return normalUpperTail(b);
  if (b === -Infinity) return normalUpperTail(a);
  const half = Math.asin(correlation) / 2;
  let sum = 0;
  for (let i = 0; i < NODES.length; i++) {
    for (const side of [-1, 1]) {
      const s = Math.sin(half * (1 + side * NODES[i]!));
      sum += WEIGHTS[i]! * Math.exp(-(a * a - 2 * a * b * s + b * b) / (2 * (1 - s * s)));
    }
  }
  return Math.max(0, independent + (half * sum) / (2 * Math.PI));
}
