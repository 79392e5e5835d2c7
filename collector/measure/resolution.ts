/** Finer than a step of 24 bits, coarser than the rounding of scaled doubles. */
const FINEST = 2 ** -30;

/**
 * The step of the number format that samples came in: the largest number that divides every change between
 * them (Euclid's algorithm on reals). Samples that were never rounded give a step near `FINEST` x `largest`.
 *
 * @param changes sizes of changes between samples; entries that are not above 0 are passed over
 * @param largest largest absolute sample
 */
export function resolutionOf(changes: Float64Array, largest: number): number {
  const finest = largest * FINEST;
  let step = 0;
  for (const change of changes) {
    if (!(change > 0)) continue;
    let [a, b] = [change, step];
    while (b > finest) [a, b] = [b, a % b];
    step = a;
  }
  return Math.max(step, finest);
}
