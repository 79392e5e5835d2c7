/** Acceleration of one sensor in its own axes x, y, z; at rest it is gravity, pointing up. m/s². */
export type Vector = readonly [x: number, y: number, z: number];

/** Standard gravity. The local one differs from it by up to 0.3 % (about 9.780 to 9.832 m/s²). */
export const STANDARD_GRAVITY_M_PER_S2 = 9.80665;

export function magnitudeOf([x, y, z]: Vector): number {
  return Math.hypot(x, y, z);
}

/** Angle between two directions, 0 to 180 degrees; 0 when one of them has no length. */
export function angleDeg(a: Vector, b: Vector): number {
  const dot = a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = Math.hypot(a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]);
  // The tangent form stays exact for small angles, where the cosine is flat.
  return (Math.atan2(cross, dot) * 180) / Math.PI;
}

/** Median of each component: a few seconds of braking or cornering do not move it. */
export function medianVector(vectors: readonly Vector[]): Vector {
  return [0, 1, 2].map((axis) => median(vectors.map((v) => v[axis]!))) as unknown as Vector;
}

/** Not a number for an empty list. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
