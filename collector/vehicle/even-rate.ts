/** Largest departure of a row from its even place, in steps, that still counts as one steady rate. */
const MOST_JITTER_STEPS = 0.25;

/**
 * Sample rate of rows at even times, as waveforms need them.
 *
 * @returns rows per second
 * @throws RangeError naming the row that is out of step
 */
export function evenSampleRateHz(timeS: Float64Array): number {
  const count = timeS.length;
  if (count < 2) throw new RangeError(`a waveform needs at least 2 rows, got ${count}`);
  const stepS = (timeS[count - 1]! - timeS[0]!) / (count - 1);
  for (let k = 0; k < count; k++) {
    const late = (timeS[k]! - timeS[0]!) / stepS - k;
    if (Math.abs(late) > MOST_JITTER_STEPS) {
      throw new RangeError(
        `row ${k + 1} lies ${late.toFixed(2)} steps from its even place; a waveform needs rows at one steady rate without gaps`,
      );
    }
  }
  return 1 / stepS;
}
