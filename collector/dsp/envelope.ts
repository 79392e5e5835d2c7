import { complexEnvelope, linesOfBand, magnitude, recordSpectrum } from './hilbert.ts';
import { nextSmooth } from './mixed-radix.ts';
import { QUICK_COMPLEX_MULTIPLE, quickFft } from './quick-fft.ts';
import { createScratch } from './scratch.ts';
import { type AmplitudeSpectrum, amplitudeSpectrum } from './spectrum.ts';

export interface EnvelopeSpectrum extends AmplitudeSpectrum {
  /** Band the envelope was taken from. */
  bandHz: [number, number];
  /** Mean of the envelope; a line's amplitude over it is the depth of modulation. */
  meanEnvelope: number;
}

interface Envelope {
  values: Float64Array;
  sampleRateHz: number;
  bandHz: [number, number];
}

/**
 * Envelope spectrum: band-pass, magnitude of the analytic signal, mean removed, Hann window, amplitude spectrum.
 * Lines are RMS in the unit of the samples. It reaches to the band's width: an envelope cannot change faster. Worked out
 * in single precision where the record's length allows.
 */
export function envelopeSpectrum(
  samples: Float64Array,
  sampleRateHz: number,
  bandHz: [number, number],
): EnvelopeSpectrum {
  const envelope = quickEnvelope(samples, sampleRateHz, bandHz) ?? envelopeOf(samples, sampleRateHz, bandHz);
  const { values } = envelope;
  const spectrum = amplitudeSpectrum(values, envelope.sampleRateHz, { window: 'hann', precision: 'single' });
  const reach = Math.floor((envelope.bandHz[1] - envelope.bandHz[0]) / spectrum.stepHz) + 1;
  return {
    stepHz: spectrum.stepHz,
    amplitudeRms: spectrum.amplitudeRms.subarray(0, reach),
    bandHz: envelope.bandHz,
    meanEnvelope: meanOf(values),
  };
}

function envelopeOf(samples: Float64Array, sampleRateHz: number, bandHz: [number, number]): Envelope {
  const record = recordSpectrum(samples, sampleRateHz);
  const envelope = complexEnvelope(record, bandHz, Number.POSITIVE_INFINITY, nextSmooth);
  return { values: magnitude(envelope), sampleRateHz: envelope.sampleRateHz, bandHz: envelope.bandHz };
}

const valuesRoom = createScratch();

/** As `envelopeOf` (see complexEnvelope); null where there is no quick way. The values are good until the next call. */
function quickEnvelope(
  samples: Float64Array,
  sampleRateHz: number,
  bandHz: [number, number],
): Envelope | null {
  const { length } = samples;
  const record = quickFft(length, 'real');
  if (record === null || !(sampleRateHz > 0)) return null;
  const [first, last] = linesOfBand(length, sampleRateHz, bandHz);
  // The line at half the rate has a place and a factor of its own.
  if (2 * last === length) return null;
  const count = last - first + 1;
  const size = nextSmooth(2 * count, QUICK_COMPLEX_MULTIPLE);
  const back = quickFft(size, 'complex');
  if (back === null) return null;
  // Gravity is large against single precision: it goes first.
  const mean = meanOf(samples);
  const input = record.input();
  for (let k = 0; k < length; k++) input[k] = samples[k]! - mean;
  const lines = record.forward();
  const shifted = back.input();
  for (let k = 0; k < 2 * count; k++) shifted[k] = lines[2 * first + k]!;
  shifted.fill(0, 2 * count);
  const analytic = back.backward();
  const values = valuesRoom(size);
  const scale = 2 / length;
  for (let k = 0; k < size; k++) {
    const re = analytic[2 * k]!;
    const im = analytic[2 * k + 1]!;
    values[k] = scale * Math.sqrt(re * re + im * im);
  }
  const stepHz = sampleRateHz / length;
  return { values, sampleRateHz: stepHz * size, bandHz: [first * stepHz, last * stepHz] };
}

function meanOf(values: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < values.length; k++) sum += values[k]!;
  return sum / values.length;
}
