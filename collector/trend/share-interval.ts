/** What a share seen in a few cases may really be. */

export interface ShareInterval {
  share: number;
  /** 95 % interval, 0 to 1. */
  low: number;
  high: number;
}

/** Two-sided 95 % point of the normal distribution. */
const Z = 1.959963984540054;

/**
 * Score interval of Wilson (J. Am. Stat. Assoc. 22, 1927, 209-212), which stays honest for few cases and for shares of 0
 * and 1, where the usual "± 2 standard errors" is empty (Brown, Cai and DasGupta, Statistical Science 16, 2001, 101-133).
 *
 * @returns null when there is no case
 * @throws RangeError for counts that cannot be
 */
export function shareInterval(hits: number, cases: number): ShareInterval | null {
  if (!(Number.isInteger(hits) && Number.isInteger(cases) && hits >= 0 && hits <= cases))
    throw new RangeError(`hits must be whole and between 0 and the cases, got ${hits} of ${cases}`);
  if (cases === 0) return null;
  const share = hits / cases;
  const z2 = Z * Z;
  const middle = (hits + z2 / 2) / (cases + z2);
  const half = (Z / (cases + z2)) * Math.sqrt(cases * share * (1 - share) + z2 / 4);
  // Exact at the ends, where rounding would leave a trace.
  return { share, low: hits === 0 ? 0 : middle - half, high: hits === cases ? 1 : middle + half };
}
