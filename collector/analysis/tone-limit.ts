import { complexFft, realFft } from '../dsp/fft.ts';
import { makeWindow } from '../dsp/window.ts';
import { runningMedian } from './background.ts';

/** A line this many times the local median amplitude is a tone; noise reaches it about once in 2000 lines. */
const TONE_RATIO = 3.3;
/** The median spans this many hertz to each side, at least 16 lines: wider than a tone, narrower than a resonance. */
const SPAN_HZ = 6;

/**
 * The record with its narrow tones brought down to the level of the noise around them. Two steady tones beat, and
 * their beat is a line in the envelope spectrum that no bearing made; the strikes of a rolling element slip, so
 * their power is spread between the lines and stays. (In the spirit of cepstrum pre-whitening, P. Borghesani et
 * al. 2013, but touching nothing that is not a tone.)
 *
 * Tones are narrow only under a window, so a Hann window is put on first and divided out afterwards; the outer
 * eighths, where it is close to nothing, are cut off: the result is the middle three quarters of the record.
 */
export function limitTones(samples: Float64Array, sampleRateHz: number): Float64Array {
  const n = samples.length - (samples.length % 2);
  const window = makeWindow('hann', n).values;
  let mean = 0;
  for (let k = 0; k < n; k++) mean += samples[k]! / n;
  const windowed = new Float64Array(n);
  for (let k = 0; k < n; k++) windowed[k] = (samples[k]! - mean) * window[k]!;
  const bins = realFft(n).forward(windowed);
  const amplitude = new Float64Array(n / 2 + 1);
  for (let k = 0; k < amplitude.length; k++) amplitude[k] = Math.hypot(bins[2 * k]!, bins[2 * k + 1]!);
  const span = Math.max(16, Math.round((SPAN_HZ * n) / sampleRateHz));
  const median = runningMedian(amplitude, span);
  // Back by the inverse of the whole spectrum of a real signal: conjugate above the middle.
  const full = new Float64Array(2 * n);
  for (let k = 0; k < amplitude.length; k++) {
    const gain = amplitude[k]! > TONE_RATIO * median[k]! ? median[k]! / amplitude[k]! : 1;
    const re = bins[2 * k]! * gain;
    const im = bins[2 * k + 1]! * gain;
    full[2 * k] = re;
    full[2 * k + 1] = im;
    if (k > 0 && 2 * k < n) {
      full[2 * (n - k)] = re;
      full[2 * (n - k) + 1] = -im;
    }
  }
  const back = complexFft(n).inverse(full);
  const cut = Math.floor(n / 8);
  const result = new Float64Array(n - 2 * cut);
  for (let k = 0; k < result.length; k++) result[k] = back[2 * (k + cut)]! / window[k + cut]!;
  return result;
}
