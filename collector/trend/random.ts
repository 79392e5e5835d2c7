/** Seeded random numbers: the same seed gives the same bootstrap on every run, so that a verdict can be repeated. */
export type Random = () => number;

/** Uniform in [0, 1): the 32-bit mixing generator known as mulberry32 (public domain, from memory). */
export function uniform(seed: number): Random {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
  };
}

/** Gaussian, mean 0 and standard deviation 1 (transform of Box and Muller, 1958). */
export function gaussian(next: Random): Random {
  let spare: number | null = null;
  return () => {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    const radius = Math.sqrt(-2 * Math.log(1 - next()));
    const angle = 2 * Math.PI * next();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  };
}
