import { gaussian, type Random } from '../../support/machine-signals.ts';

export interface TrueMode {
  frequencyHz: number;
  dampingRatio: number;
  amplitude: number;
}

/** Capture of raps at given times: quiet noise, a short contact pulse, then free ringing of known modes. */
export function tapCapture(
  modes: readonly TrueMode[],
  options: {
    rateHz: number;
    seconds: number;
    rapsAtS: readonly number[];
    noise: number;
    random: Random;
    colour?: number;
  },
): Float64Array {
  const { rateHz, seconds, rapsAtS, noise, random, colour = 0 } = options;
  let y = 0;
  const scale = noise * Math.sqrt(1 - colour * colour);
  const samples = Float64Array.from({ length: Math.round(rateHz * seconds) }, () => {
    y = colour * y + scale * gaussian(random);
    return y;
  });
  const largest = modes.reduce((sum, { amplitude }) => sum + amplitude, 0);
  for (const at of rapsAtS) {
    const first = Math.round(at * rateHz);
    const phases = modes.map(() => 2 * Math.PI * random());
    for (let k = first; k < samples.length; k++) {
      const t = (k - first) / rateHz;
      if (t < 0.001) samples[k]! += 2 * largest * Math.sin(Math.PI * (t / 0.001));
      modes.forEach(({ frequencyHz, dampingRatio, amplitude }, m) => {
        const w = 2 * Math.PI * frequencyHz;
        const decay = (w * dampingRatio) / Math.sqrt(1 - dampingRatio ** 2);
        samples[k]! += amplitude * Math.exp(-decay * t) * Math.cos(w * t + phases[m]!);
      });
    }
  }
  return samples;
}
