import { type BearingMultipliers, bearingMultipliers } from './bearing.ts';
import { KNOWN_BEARINGS, knownBearing } from './known-bearings.ts';

/**
 * A bearing as a person writes it: a known designation ("6205"), or elements, element diameter, pitch diameter and
 * contact angle in millimetres and degrees ("9,7.94,39.04,0"; the angle may be left out).
 * @throws RangeError saying what was expected.
 */
export function bearingFromText(
  text: string,
  outerRing: 'standing' | 'turning' = 'standing',
): BearingMultipliers {
  const known = knownBearing(text);
  if (known !== null) return bearingMultipliers(known.geometry, outerRing);
  const parts = text.split(',').map((part) => part.trim());
  const numbers = parts.map(Number);
  if (
    (numbers.length === 3 || numbers.length === 4) &&
    parts.every((part) => part !== '') &&
    numbers.every(Number.isFinite)
  ) {
    const [rollingElements, elementDiameterMm, pitchDiameterMm, contactAngleDeg = 0] = numbers as [
      number,
      number,
      number,
      number?,
    ];
    const geometry = { rollingElements, elementDiameterMm, pitchDiameterMm, contactAngleDeg };
    return bearingMultipliers(geometry, outerRing);
  }
  const names = KNOWN_BEARINGS.map((bearing) => bearing.designation).join(', ');
  throw new RangeError(
    `"${text}" is no bearing: give elements, element diameter mm, pitch diameter mm, contact angle degrees ` +
      `(e.g. 9,7.94,39.04,0), or one of the known ones: ${names}`,
  );
}
