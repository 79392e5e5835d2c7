/** Student's t distribution: how far a mean of few values may lie off. */

/**
 * P(T > t) for `dof` degrees of freedom (not only whole ones): half the regularised incomplete beta function
 * I_x(dof/2, 1/2) at x = dof / (dof + t²) (Abramowitz and Stegun 26.7.1), by its continued fraction 26.5.8.
 */
export function studentUpperTail(t: number, dof: number): number {
  if (t < 0) return 1 - studentUpperTail(-t, dof);
  return 0.5 * incompleteBeta(dof / (dof + t * t), dof / 2, 0.5);
}

/** t with P(T > t) = `tail`, for 0 < tail < 0.5. */
export function studentQuantile(tail: number, dof: number): number {
  if (!(tail > 0 && tail < 0.5 && dof > 0)) {
    throw new RangeError(
      `a t quantile needs a tail between 0 and 0.5 and dof over 0, got ${tail} and ${dof}`,
    );
  }
  let low = 0;
  let high = 1;
  while (studentUpperTail(high, dof) > tail) high *= 2;
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (studentUpperTail(middle, dof) > tail) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function incompleteBeta(x: number, a: number, b: number): number {
  if (x <= 0) return 0;
  if (x >= 1) return 1;
  // The fraction converges fast below (a + 1) / (a + b + 2); above it the mirror image does.
  if (x > (a + 1) / (a + b + 2)) return 1 - incompleteBeta(1 - x, b, a);
  const front = Math.exp(lnGamma(a + b) - lnGamma(a) - lnGamma(b) + a * Math.log(x) + b * Math.log1p(-x));
  let numerator = 1;
  let denominator = 1 - ((a + b) * x) / (a + 1);
  denominator = 1 / denominator;
  let fraction = denominator;
  for (let m = 1; m < 300; m++) {
    for (const d of [
      (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m)),
      (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1)),
    ]) {
      denominator = 1 / (1 + d * denominator);
      numerator = 1 + d / numerator;
      fraction *= denominator * numerator;
    }
    if (Math.abs(denominator * numerator - 1) < 1e-14) break;
  }
  return (front * fraction) / a;
}

/** ln Gamma by Lanczos' sum (g = 7, nine terms; coefficients from memory, checked against scipy in the tests). */
function lnGamma(z: number): number {
  const terms = [
    0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313, -176.61502916214059,
    12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7,
  ];
  if (z < 0.5) return Math.log(Math.PI / Math.sin(Math.PI * z)) - lnGamma(1 - z);
  const base = z + 6.5;
  let sum = terms[0]!;
  for (let i = 1; i < terms.length; i++) sum += terms[i]! / (z - 1 + i);
  return 0.5 * Math.log(2 * Math.PI) + (z - 0.5) * Math.log(base) - base + Math.log(sum);
}
