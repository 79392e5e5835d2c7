import { complexEnvelope, magnitude, recordSpectrum } from './hilbert.ts';
import { nextSmooth } from './mixed-radix.ts';
import { type AmplitudeSpectrum, amplitudeSpectrum } from './spectrum.ts';

export interface EnvelopeSpectrum extends AmplitudeSpectrum {
  /** Band the envelope was taken from. */
  bandHz: [number, number];
  /** Mean of the envelope; a line's amplitude over it is the depth of modulation. */
  meanEnvelope: number;
}

/**
 * Envelope spectrum: band-pass, magnitude of the analytic signal, mean removed, Hann window, amplitude spectrum.
 * Lines are RMS in the unit of the samples. It reaches to the band's width: an envelope cannot change faster.
 */
export function envelopeSpectrum(
  samples: Float64Array,
  sampleRateHz: number,
  bandHz: [number, number],
): EnvelopeSpectrum {
  const record = recordSpectrum(samples, sampleRateHz);
  const envelope = complexEnvelope(record, bandHz, Number.POSITIVE_INFINITY, nextSmooth);
  const values = magnitude(envelope);
  const spectrum = amplitudeSpectrum(values, envelope.sampleRateHz, { window: 'hann' });
  const reach = Math.floor((envelope.bandHz[1] - envelope.bandHz[0]) / spectrum.stepHz) + 1;
  return {
    stepHz: spectrum.stepHz,
    amplitudeRms: spectrum.amplitudeRms.subarray(0, reach),
    bandHz: envelope.bandHz,
    meanEnvelope: meanOf(values),
  };
}

function meanOf(values: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < values.length; k++) sum += values[k]!;
  return sum / values.length;
}
