/** Rolling bearing: from geometry to the frequencies its defects repeat at. */

export interface BearingGeometry {
  rollingElements: number;
  elementDiameterMm: number;
  pitchDiameterMm: number;
  contactAngleDeg: number;
}

/** Defect frequencies as multiples of the speed between the two rings. */
export interface BearingMultipliers {
  /** Ball pass frequency, outer race. */
  outer: number;
  /** Ball pass frequency, inner race. */
  inner: number;
  /** Spin of one rolling element; a defect on it strikes a race twice per spin. */
  ballSpin: number;
  /** Turning of the cage. */
  cage: number;
  /** Which ring turns with the shaft. Default: the inner one, the outer ring stands. */
  outerRing?: 'standing' | 'turning';
}

/**
 * Kinematic multipliers, no slip. With g = (d / D) cos(angle), n elements of diameter d on pitch diameter D:
 *   outer n/2 (1 - g), inner n/2 (1 + g), ball spin D/(2d) (1 - g²), cage 1/2 (1 - g), or 1/2 (1 + g) where the
 * outer ring turns and the inner one stands (a wheel hub). The first three depend on the relative speed alone.
 * Source: R. B. Randall, J. Antoni, "Rolling element bearing diagnostics - A tutorial", 2011, eq. 1-4.
 * @throws RangeError naming the dimension that cannot be.
 */
export function bearingMultipliers(
  geometry: BearingGeometry,
  outerRing: 'standing' | 'turning' = 'standing',
): BearingMultipliers {
  const { rollingElements: n, elementDiameterMm: d, pitchDiameterMm: pitch, contactAngleDeg } = geometry;
  if (!Number.isInteger(n) || n < 3) {
    throw new RangeError(`a bearing has a whole number of rolling elements, at least 3; got ${n}`);
  }
  if (!(d > 0 && pitch > d)) {
    throw new RangeError(
      `the pitch diameter (${pitch} mm) must exceed the element diameter (${d} mm), both over 0`,
    );
  }
  if (!(Math.abs(contactAngleDeg) < 90)) {
    throw new RangeError(`the contact angle must lie under 90 degrees, got ${contactAngleDeg}`);
  }
  const g = (d / pitch) * Math.cos((contactAngleDeg * Math.PI) / 180);
  return {
    outer: (n / 2) * (1 - g),
    inner: (n / 2) * (1 + g),
    ballSpin: (pitch / (2 * d)) * (1 - g * g),
    cage: outerRing === 'standing' ? (1 - g) / 2 : (1 + g) / 2,
    outerRing,
  };
}
