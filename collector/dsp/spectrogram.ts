import { amplitudeSpectrum } from './spectrum.ts';
import type { WindowName } from './window.ts';

export interface Spectrogram {
  /** Middle of each column. */
  timeS: Float64Array;
  stepHz: number;
  /** One amplitude spectrum (RMS lines from 0 Hz up) per column. */
  columns: Float64Array[];
}

/** Amplitude spectra of stretches that overlap: how the lines move over time. */
export function spectrogram(
  samples: Float64Array,
  sampleRateHz: number,
  options: { segmentSamples: number; overlap?: number; window?: WindowName },
): Spectrogram {
  const { segmentSamples, overlap = 0.5, window = 'hann' } = options;
  if (!(overlap >= 0 && overlap < 1)) throw new RangeError(`overlap must be in 0 to 1, got ${overlap}`);
  const step = Math.max(1, segmentSamples - Math.floor(segmentSamples * overlap));
  const columns: Float64Array[] = [];
  const timeS: number[] = [];
  for (let start = 0; start + segmentSamples <= samples.length; start += step) {
    const block = samples.subarray(start, start + segmentSamples);
    columns.push(amplitudeSpectrum(block, sampleRateHz, { window }).amplitudeRms);
    timeS.push((start + segmentSamples / 2) / sampleRateHz);
  }
  return { timeS: Float64Array.from(timeS), stepHz: sampleRateHz / segmentSamples, columns };
}
