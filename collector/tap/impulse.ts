/** Finds raps in a record: sudden, short, far above what was there before. */

export interface Rap {
  /** First sample that belongs to the rap. */
  onset: number;
  /** Sample of the greatest excursion. */
  peakAt: number;
  /** Greatest excursion from the level before it, in the unit of the samples. */
  peak: number;
  /** Standard deviation of what was there before, same unit. */
  noise: number;
}

export interface RapSearch {
  /** A rap must rise this many times above the noise before it. Default 8: Gaussian noise never does. */
  timesNoise?: number;
  /** And to this share of the largest one in the record, so that rebounds do not count. Default 0.25. */
  shareOfLargest?: number;
  /** Raps closer together than this are one. Default 0.08 s: nobody raps faster. */
  apartS?: number;
}

/** How long before a rap's peak its onset may lie. */
const RISE_S = 0.005;
/** Median absolute deviation to standard deviation, for Gaussian noise. */
const MAD_TO_SD = 1.4826;

/** All raps of a record in order of time. The noise is the middle absolute deviation of the whole record: raps are short. */
export function findRaps(samples: Float64Array, sampleRateHz: number, search: RapSearch = {}): Rap[] {
  if (!(sampleRateHz > 0)) throw new RangeError(`sample rate must be over 0, got ${sampleRateHz}`);
  if (samples.length < 16)
    throw new RangeError(`a rap needs at least 16 samples around it, got ${samples.length}`);
  const { timesNoise = 8, shareOfLargest = 0.25, apartS = 0.08 } = search;
  const middle = medianOf(samples);
  const size = samples.map((value) => Math.abs(value - middle));
  const noise = noiseBefore(size, sampleRateHz);
  const largest = size.reduce((most, value) => Math.max(most, value), 0);
  const least = Math.max(timesNoise * noise, shareOfLargest * largest);
  const apart = Math.round(apartS * sampleRateHz);
  const raps: Rap[] = [];
  let quietSince = Number.NEGATIVE_INFINITY;
  for (let k = 0; k < size.length; k++) {
    if (!(size[k]! > least)) continue;
    const last = raps.at(-1);
    if (last !== undefined && k - quietSince < apart) {
      quietSince = k;
      continue;
    }
    quietSince = k;
    let peakAt = k;
    for (let m = k; m < Math.min(size.length, k + Math.round(RISE_S * sampleRateHz)); m++)
      if (size[m]! > size[peakAt]!) peakAt = m;
    let onset = k;
    while (onset > 0 && k - onset < RISE_S * sampleRateHz && size[onset - 1]! > 4 * noise) onset--;
    raps.push({ onset, peakAt, peak: size[peakAt]!, noise });
  }
  return raps;
}

/**
 * Noise of the record, from the quietest tenth of it: after a rap the part may ring through most of the capture. The
 * lowest of some 50 short stretches' deviations is a little low; the threshold of 8 leaves room for that.
 */
function noiseBefore(size: Float64Array, sampleRateHz: number): number {
  const length = Math.min(size.length, Math.max(16, Math.round(0.02 * sampleRateHz)));
  const levels: number[] = [];
  for (let from = 0; from + length <= size.length; from += length) {
    levels.push(MAD_TO_SD * medianOf(size.subarray(from, from + length)));
  }
  levels.sort((a, b) => a - b);
  return levels[Math.floor(levels.length / 10)]!;
}

function medianOf(values: Float64Array): number {
  const sorted = values.slice().sort();
  const middle = sorted.length / 2;
  return (sorted[Math.floor(middle - 0.5)]! + sorted[Math.floor(middle)]!) / 2;
}
