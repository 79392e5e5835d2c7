import { complexFft, nextPowerOfTwo, realFft } from './fft.ts';
import { createScratch } from './scratch.ts';

/** One-sided spectrum of a record, kept so that many bands can be cut from one transform. */
export interface RecordSpectrum {
  /** Bins 0 to floor(n/2), real and imaginary parts in turn; the mean is removed. */
  readonly bins: Float64Array;
  readonly samples: number;
  readonly sampleRateHz: number;
}

/** Signal of one band, moved down to 0 Hz: z(t) = x_analytic(t) exp(-2 pi i f_low t), sampled just fast enough. */
export interface ComplexEnvelope {
  /** Real and imaginary parts in turn. */
  readonly values: Float64Array;
  readonly sampleRateHz: number;
  readonly bandHz: [number, number];
}

export function recordSpectrum(samples: Float64Array, sampleRateHz: number): RecordSpectrum {
  if (samples.length < 2) throw new RangeError(`a spectrum needs at least 2 samples, got ${samples.length}`);
  if (!(sampleRateHz > 0 && Number.isFinite(sampleRateHz))) {
    throw new RangeError(`sample rate must be a positive number of hertz, got ${sampleRateHz}`);
  }
  const bins = realFft(samples.length).forward(samples);
  bins[0] = 0;
  return { bins, samples: samples.length, sampleRateHz };
}

/**
 * Analytic signal of one band by the transform method (S. L. Marple, "Computing the discrete-time analytic
 * signal via FFT", 1999): keep the positive frequencies of the band, doubled, and transform back. Because the
 * band is moved to 0 Hz first, the result needs only a low sample rate, which makes a search over many bands cheap:
 * the magnitude squared reaches up to the band's width, so twice the width holds all of it, and width + `topHz`
 * keeps what folds back above `topHz`. The magnitude itself is the same as at the full rate. `lengthFor` chooses a
 * length that transforms quickly, and with it the sample rate.
 */
export function complexEnvelope(
  spectrum: RecordSpectrum,
  bandHz: [number, number],
  topHz = Number.POSITIVE_INFINITY,
  lengthFor: (atLeast: number) => number = nextPowerOfTwo,
): ComplexEnvelope {
  const { bins, samples, sampleRateHz } = spectrum;
  const stepHz = sampleRateHz / samples;
  const [first, last] = linesOfBand(samples, sampleRateHz, bandHz);
  const count = last - first + 1;
  const size = lengthFor(count + Math.min(count, Math.ceil(topHz / stepHz)));
  const shifted = shiftedRoom(2 * size);
  // inverse() divides by `size`; the amplitude belongs to a division by the record's length.
  const scale = size / samples;
  for (let k = 0; k < count; k++) {
    const at = first + k;
    const doubled = 2 * at === samples ? scale : 2 * scale;
    shifted[2 * k] = bins[2 * at]! * doubled;
    shifted[2 * k + 1] = bins[2 * at + 1]! * doubled;
  }
  shifted.fill(0, 2 * count);
  const values = complexFft(size).inverse(shifted);
  return { values, sampleRateHz: stepHz * size, bandHz: [first * stepHz, last * stepHz] };
}

/** First and last line of a record of `samples` that lie in a band. @throws RangeError when there are not two */
export function linesOfBand(
  samples: number,
  sampleRateHz: number,
  bandHz: [number, number],
): [first: number, last: number] {
  const stepHz = sampleRateHz / samples;
  const first = Math.max(1, Math.ceil(bandHz[0] / stepHz - 1e-9));
  const last = Math.min(Math.floor(samples / 2), Math.floor(bandHz[1] / stepHz + 1e-9));
  if (last > first) return [first, last];
  throw new RangeError(
    `band ${bandHz[0]} to ${bandHz[1]} Hz holds no lines of this record (0 to ${sampleRateHz / 2} Hz, ` +
      `${stepHz} Hz apart): state a wider band inside the record's range`,
  );
}

const shiftedRoom = createScratch();

/** Magnitude of a complex envelope: what a tone of amplitude A in the band reads is A. */
export function magnitude(envelope: ComplexEnvelope): Float64Array {
  const { values } = envelope;
  const result = new Float64Array(values.length / 2);
  for (let k = 0; k < result.length; k++) {
    const re = values[2 * k]!;
    const im = values[2 * k + 1]!;
    result[k] = Math.sqrt(re * re + im * im);
  }
  return result;
}
