/**
 * Exact, mergeable moments of a sample: the values of two stretches combine into those of both together without
 * the samples (P. Pébay, Formulas for Robust, One-Pass Parallel Computation of Covariances and Arbitrary-Order
 * Statistical Moments, Sandia SAND2008-6212; order 2 by Chan, Golub and LeVeque).
 */
export interface Moments {
  count: number;
  mean: number;
  /** Sums of the second, third and fourth powers of the deviations from the mean. */
  m2: number;
  m3: number;
  m4: number;
  /** +Infinity and -Infinity when there are no samples. */
  minimum: number;
  maximum: number;
}

export const NO_MOMENTS: Readonly<Moments> = Object.freeze({
  count: 0,
  mean: 0,
  m2: 0,
  m3: 0,
  m4: 0,
  minimum: Number.POSITIVE_INFINITY,
  maximum: Number.NEGATIVE_INFINITY,
});

export function momentsOf(samples: Float64Array): Moments {
  const accumulator = createMomentAccumulator();
  accumulator.add(samples);
  return accumulator.take();
}

export function mergeMoments(a: Moments, b: Moments): Moments {
  if (a.count === 0) return { ...b };
  if (b.count === 0) return { ...a };
  const [na, nb, n] = [a.count, b.count, a.count + b.count];
  const delta = b.mean - a.mean;
  const m2 = a.m2 + b.m2 + (delta ** 2 * na * nb) / n;
  const m3 =
    a.m3 + b.m3 + (delta ** 3 * na * nb * (na - nb)) / n ** 2 + (3 * delta * (na * b.m2 - nb * a.m2)) / n;
  const m4 =
    a.m4 +
    b.m4 +
    (delta ** 4 * na * nb * (na ** 2 - na * nb + nb ** 2)) / n ** 3 +
    (6 * delta ** 2 * (na ** 2 * b.m2 + nb ** 2 * a.m2)) / n ** 2 +
    (4 * delta * (na * b.m3 - nb * a.m3)) / n;
  return {
    count: n,
    mean: a.mean + (delta * nb) / n,
    m2,
    m3,
    m4,
    minimum: Math.min(a.minimum, b.minimum),
    maximum: Math.max(a.maximum, b.maximum),
  };
}

/** Root mean square about the mean; null without samples. */
export function rms(m: Moments): number | null {
  return m.count > 0 ? Math.sqrt(m.m2 / m.count) : null;
}

/** Largest distance from the mean; null without samples. */
export function peak(m: Moments): number | null {
  return m.count > 0 ? Math.max(m.maximum - m.mean, m.mean - m.minimum) : null;
}

/** Peak over RMS; null for a constant. */
export function crestFactor(m: Moments): number | null {
  return m.m2 > 0 ? peak(m)! / rms(m)! : null;
}

/** Pearson's kurtosis n M4 / M2² (3 for a Gaussian, 1.5 for a sine; no bias correction); null for a constant. */
export function kurtosis(m: Moments): number | null {
  return m.m2 > 0 ? (m.count * m.m4) / m.m2 ** 2 : null;
}

export interface MomentAccumulator {
  add(samples: Float64Array): void;
  /** The moments since the last `take`, and starts anew. */
  take(): Moments;
}

/**
 * Sums of powers about the first sample, made central at the end. One division per block instead of one per
 * sample; measuring from the first sample keeps gravity, which may be 1e5 times the vibration, out of the sums.
 * Samples are added in order, so pieces of any size give the same bits.
 */
export function createMomentAccumulator(): MomentAccumulator {
  let count = 0;
  let [pilot, s1, s2, s3, s4] = [0, 0, 0, 0, 0];
  let [low, high] = [0, 0];
  return {
    add(samples) {
      if (samples.length === 0) return;
      if (count === 0) pilot = samples[0]!;
      let [t1, t2, t3, t4, lowest, highest] = [s1, s2, s3, s4, low, high];
      for (let i = 0; i < samples.length; i++) {
        const d = samples[i]! - pilot;
        const squared = d * d;
        t1 += d;
        t2 += squared;
        t3 += squared * d;
        t4 += squared * squared;
        if (d < lowest) lowest = d;
        if (d > highest) highest = d;
      }
      [s1, s2, s3, s4, low, high] = [t1, t2, t3, t4, lowest, highest];
      count += samples.length;
    },
    take() {
      if (count === 0) return { ...NO_MOMENTS };
      const mean = s1 / count;
      const moments = {
        count,
        mean: pilot + mean,
        m2: Math.max(0, s2 - count * mean ** 2),
        m3: s3 - 3 * mean * s2 + 2 * count * mean ** 3,
        m4: Math.max(0, s4 - 4 * mean * s3 + 6 * mean ** 2 * s2 - 3 * count * mean ** 4),
        minimum: pilot + low,
        maximum: pilot + high,
      };
      count = 0;
      [pilot, s1, s2, s3, s4, low, high] = [0, 0, 0, 0, 0, 0, 0];
      return moments;
    },
  };
}
