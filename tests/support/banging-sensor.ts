import { clampedSensor } from './loose-clamp.ts';
import { gaussian, seededRandom } from './machine-signals.ts';

/** Acceleration of a machine at about its own 31 Hz, and what a sensor reads that lies on it with little force. */
export function bangingSensor(rate: number, seconds: number): { base: Float64Array; loose: Float64Array } {
  const random = seededRandom(414);
  const base = Float64Array.from(
    { length: seconds * rate },
    (_, k) => 12 * Math.sin((2 * Math.PI * 31 * k) / rate) + gaussian(random),
  );
  const clamp = {
    preloadMPerS2: 3,
    contactHz: 3000,
    clampSpringHz: 8,
    contactDamping: 0.15,
    gapM: Number.POSITIVE_INFINITY,
    ring: { hz: 1000, damping: 0.05, share: 0 },
  };
  return { base, loose: clampedSensor(base, rate, clamp, 0.05, random).samples };
}
