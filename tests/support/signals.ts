/** Signals with known answers. All in m/s² unless the name says otherwise. */

/** Acceleration of a sine of the given velocity RMS, samples `from` to `from + count`. */
export function velocitySine(
  frequencyHz: number,
  velocityRmsMmPerS: number,
  sampleRateHz: number,
  count: number,
  from = 0,
): Float64Array {
  const w = 2 * Math.PI * frequencyHz;
  const amplitude = (velocityRmsMmPerS / 1000) * Math.SQRT2 * w;
  return Float64Array.from(
    { length: count },
    (_, i) => amplitude * Math.sin((w * (from + i)) / sampleRateHz),
  );
}

/**
 * Linear congruential generator x' = (1664525 x + 1013904223) mod 2^32 (constants of Knuth and of "Numerical
 * Recipes"): whole numbers only, so that another language makes the very same samples.
 */
export function integerNoise(seed: number): () => number {
  let x = seed >>> 0;
  return () => {
    x = (Math.imul(1664525, x) + 1013904223) >>> 0;
    return x;
  };
}

/** Uniform in [0, 1). */
export function uniform(seed: number): () => number {
  const next = integerNoise(seed);
  return () => next() / 2 ** 32;
}

export function gaussianNoise(seed: number, sigma: number, count: number): Float64Array {
  const next = uniform(seed);
  return Float64Array.from(
    { length: count },
    () => sigma * Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()),
  );
}

/** Rounded to whole 16-bit steps and limited to them, as a sensor or a WAV file does. */
export function quantise16(samples: Float64Array, fullScale: number): Float64Array {
  return samples.map(
    (v) => (Math.max(-32768, Math.min(32767, Math.round((v / fullScale) * 32768))) / 32768) * fullScale,
  );
}

export function sum(...signals: Float64Array[]): Float64Array {
  return signals[0]!.map((_, i) => signals.reduce((total, s) => total + s[i]!, 0));
}
