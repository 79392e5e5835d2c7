/** The velocity bands a channel can be measured in. */
export type BandName = '10-1000' | '2-1000';

/** Lower limit of each band, Hz: 10-1000 after ISO 2954; 2-1000 for shafts slower than 600 revolutions a minute. */
const LOWER_LIMIT_HZ: Record<BandName, number> = { '10-1000': 10, '2-1000': 2 };

export const BAND_NAMES = Object.keys(LOWER_LIMIT_HZ) as BandName[];
export const BAND_TOP_HZ = 1000;

/** Samples per cycle of the highest frequency that counts as covered (common practice, no source). */
const SAMPLES_PER_CYCLE = 2.56;

/**
 * The band that a sample rate really covers: a rate under 2560 Hz does not reach 1000 Hz.
 *
 * @throws RangeError when the rate covers less than an octave above the lower limit
 */
export function coveredBandHz(sampleRateHz: number, band: BandName): [number, number] {
  const low = LOWER_LIMIT_HZ[band];
  const top = Math.min(BAND_TOP_HZ, sampleRateHz / SAMPLES_PER_CYCLE);
  if (!(top >= 2 * low && sampleRateHz < Number.POSITIVE_INFINITY)) {
    throw new RangeError(
      `sample rate ${sampleRateHz} Hz is too low for the band ${band} Hz: at least ${2 * low * SAMPLES_PER_CYCLE} Hz is needed`,
    );
  }
  return [low, top];
}
