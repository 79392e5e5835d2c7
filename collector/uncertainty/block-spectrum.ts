import { type Density, welch } from '../dsp/spectrum.ts';

const SEGMENT_S = 0.5;

/** Samples of one segment of a block's spectrum: a power of two, at least half a second. */
export function blockSegmentSamples(sampleRateHz: number): number {
  return 2 ** Math.ceil(Math.log2(sampleRateHz * SEGMENT_S));
}

/**
 * Welch density of one block's acceleration, (m/s²)² per Hz; null when it is too short for a segment. It is worked
 * out once per block, in single precision, for the uncertainty of its velocity and for the spectra that are kept.
 */
export function blockSpectrum(acceleration: Float64Array, sampleRateHz: number): Density | null {
  const segmentSamples = blockSegmentSamples(sampleRateHz);
  return acceleration.length < segmentSamples
    ? null
    : welch(acceleration, sampleRateHz, { segmentSamples, precision: 'single' });
}
