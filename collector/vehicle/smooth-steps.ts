/**
 * A value told in whole steps (road speed after SAE J1979 is in whole km/h) as the smooth one behind it: the mean of
 * the straight lines between its rows over `halfS` to each side. A step of 1 km/h at 50 is 2 %, which would smear a
 * tone of a hundred hertz over two; the mean over three seconds leaves some tenths of that, and follows a steady
 * change without delay.
 *
 * @param atMs rising times; the result has one value for each
 */
export function smoothSteps(atMs: readonly number[], value: readonly number[], halfS = 1.5): number[] {
  const areas = [0];
  for (let k = 1; k < atMs.length; k++) {
    areas.push(areas[k - 1]! + ((value[k - 1]! + value[k]!) / 2) * (atMs[k]! - atMs[k - 1]!));
  }
  const areaUpTo = (ms: number): number => {
    let low = 0;
    let high = atMs.length - 1;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (atMs[middle]! <= ms) low = middle;
      else high = middle;
    }
    const into = ms - atMs[low]!;
    const slope = high === low ? 0 : (value[high]! - value[low]!) / (atMs[high]! - atMs[low]!);
    return areas[low]! + into * (value[low]! + (slope * into) / 2);
  };
  return value.map((own, k) => {
    // The same reach to both sides, so that a steady change is not bent at the ends.
    const reach = Math.min(halfS * 1000, atMs[k]! - atMs[0]!, atMs[atMs.length - 1]! - atMs[k]!);
    return reach > 0 ? (areaUpTo(atMs[k]! + reach) - areaUpTo(atMs[k]! - reach)) / (2 * reach) : own;
  });
}
