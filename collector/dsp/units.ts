/** Unit conversions, named. */

/** Standard acceleration of gravity, m/s² (ISO 80000-3; exact by definition). */
const STANDARD_GRAVITY_M_PER_S2 = 9.80665;

export type AccelerationUnit = 'g' | 'm/s2';

/** Acceleration in `unit` to m/s². */
export function toMPerS2(value: number, unit: AccelerationUnit): number {
  return unit === 'g' ? value * STANDARD_GRAVITY_M_PER_S2 : value;
}

/** Metres per second to millimetres per second. */
export function toMmPerS(velocityMPerS: number): number {
  return velocityMPerS * 1000;
}
