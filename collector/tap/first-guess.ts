import { runningMedian } from '../analysis/background.ts';
import { nextPowerOfTwo, realFft } from '../dsp/fft.ts';
import type { Density } from '../dsp/spectrum.ts';
import type { DampedSine } from './damped-sines.ts';

/** Shares of the stretch looked at, from its beginning, and the fewest samples of one. */
const STRETCHES = [1, 1 / 4, 1 / 16];
const SHORTEST = 96;
/** Damping ratios tried for a first guess: from a bell to a rubber block. */
const DAMPING_TRIED = [0.0015, 0.003, 0.006, 0.012, 0.025, 0.05, 0.1];

/**
 * The mode that explains most of what is left: highest line of the spectrum, then the damping and the place around it
 * that take away most by linear least squares. Null where no line stands `timesBackground` (power) above its
 * surroundings and above the noise before the rap (`quiet`, where there is enough of it).
 */
export function strongestMode(
  rest: Float64Array,
  sampleRateHz: number,
  fromHz: number,
  toHz: number,
  timesBackground: number,
  quiet: Density | null,
): DampedSine | null {
  let best: { mode: DampedSine; taken: number } | null = null;
  // A mode that dies within milliseconds drowns in the noise of a long stretch: the beginning is looked at alone too.
  for (const share of STRETCHES) {
    const length = Math.floor(rest.length * share);
    if (length < SHORTEST) break;
    const hz = highestLine(rest.subarray(0, length), sampleRateHz, fromHz, toHz, timesBackground, quiet);
    if (hz === null) continue;
    const found = bestAround(rest, sampleRateHz, hz, sampleRateHz / length);
    if (best === null || found.taken > best.taken) best = found;
  }
  return best?.mode ?? null;
}

function highestLine(
  rest: Float64Array,
  sampleRateHz: number,
  fromHz: number,
  toHz: number,
  timesBackground: number,
  quiet: Density | null,
): number | null {
  const size = nextPowerOfTwo(2 * rest.length);
  const padded = new Float64Array(size);
  padded.set(rest);
  const bins = realFft(size).forward(padded);
  const power = new Float64Array(size / 2);
  for (let k = 0; k < power.length; k++) power[k] = bins[2 * k]! ** 2 + bins[2 * k + 1]! ** 2;
  const stepHz = sampleRateHz / size;
  const first = Math.max(1, Math.ceil(fromHz / stepHz));
  const last = Math.min(power.length - 1, Math.floor(toHz / stepHz));
  if (last <= first) return null;
  // Wide against a mode's own line, so that the mode does not lift its own background.
  const background = runningMedian(power.subarray(first, last + 1), Math.max(32, (last - first) >> 2));
  let best = -1;
  for (let k = first; k <= last; k++) {
    // A density S of n samples at this rate makes lines of n S rate / 2 on average.
    const noise = (rest.length * sampleRateHz * densityAt(quiet, k * stepHz)) / 2;
    if (
      power[k]! > timesBackground * Math.max(noise, background[k - first]!) &&
      (best < 0 || power[k]! > power[best]!)
    )
      best = k;
  }
  return best < 0 ? null : best * stepHz;
}

function densityAt(quiet: Density | null, hz: number): number {
  if (quiet === null) return 0;
  return quiet.density[Math.min(quiet.density.length - 1, Math.round(hz / quiet.stepHz))]!;
}

function bestAround(rest: Float64Array, sampleRateHz: number, hz: number, lineHz: number) {
  let best: { mode: DampedSine; taken: number } | null = null;
  for (let shift = -2; shift <= 2; shift++) {
    const frequencyHz = Math.max(lineHz / 4, hz + (shift * lineHz) / 4);
    for (const ratio of DAMPING_TRIED) {
      const decayPerS = 2 * Math.PI * frequencyHz * ratio;
      const { inPhase, quadrature, taken } = amplitudes(rest, sampleRateHz, frequencyHz, decayPerS);
      if (best === null || taken > best.taken)
        best = { mode: { frequencyHz, decayPerS, inPhase, quadrature }, taken };
    }
  }
  return best!;
}

/** Linear least squares of both amplitudes, and the sum of squares they take away. */
function amplitudes(rest: Float64Array, sampleRateHz: number, frequencyHz: number, decayPerS: number) {
  const size = Math.exp(-decayPerS / sampleRateHz);
  const angle = (2 * Math.PI * frequencyHz) / sampleRateHz;
  const [turnRe, turnIm] = [size * Math.cos(angle), size * Math.sin(angle)];
  let [cc, ss, cs, cx, sx, re, im] = [0, 0, 0, 0, 0, 1, 0];
  for (let k = 0; k < rest.length; k++) {
    const x = rest[k]!;
    cc += re * re;
    ss += im * im;
    cs += re * im;
    cx += re * x;
    sx += im * x;
    [re, im] = [re * turnRe - im * turnIm, re * turnIm + im * turnRe];
  }
  const determinant = cc * ss - cs * cs;
  if (!(determinant > 1e-12 * cc * cc)) return { inPhase: 0, quadrature: 0, taken: 0 };
  const inPhase = (ss * cx - cs * sx) / determinant;
  const quadrature = (cc * sx - cs * cx) / determinant;
  return { inPhase, quadrature, taken: inPhase * cx + quadrature * sx };
}
