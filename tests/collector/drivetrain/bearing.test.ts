import { describe, expect, it } from 'vitest';
import { bearingMultipliers } from '../../../collector/drivetrain/bearing.ts';
import { bearingFromText } from '../../../collector/drivetrain/bearing-text.ts';
import { KNOWN_BEARINGS, knownBearing } from '../../../collector/drivetrain/known-bearings.ts';

const inch = 25.4;

describe('bearingMultipliers', () => {
  it('equals the published multipliers of a 6205 (Case Western Reserve University: 5.4152, 3.5848, 0.39828, 4.7135)', () => {
    const m = bearingMultipliers({
      rollingElements: 9,
      elementDiameterMm: 0.3126 * inch,
      pitchDiameterMm: 1.537 * inch,
      contactAngleDeg: 0,
    });
    expect(m.inner).toBeCloseTo(5.4152, 4);
    expect(m.outer).toBeCloseTo(3.5848, 4);
    expect(m.cage).toBeCloseTo(0.39828, 4);
    expect(2 * m.ballSpin).toBeCloseTo(4.7135, 3);
  });

  it('equals the published multipliers of a 6203 (same source: 4.9469, 3.0530, 0.3817, 3.9874)', () => {
    const m = bearingMultipliers(knownBearing('6203')!.geometry);
    expect(m.inner).toBeCloseTo(4.9469, 3);
    expect(m.outer).toBeCloseTo(3.053, 3);
    expect(m.cage).toBeCloseTo(0.3817, 3);
    expect(2 * m.ballSpin).toBeCloseTo(3.9874, 2);
  });

  it('keeps the laws: both races add to the elements; n cages make the outer line; every known bearing', () => {
    for (const { geometry } of KNOWN_BEARINGS) {
      const standing = bearingMultipliers({ ...geometry, contactAngleDeg: 15 });
      const turning = bearingMultipliers({ ...geometry, contactAngleDeg: 15 }, 'turning');
      expect(standing.outer + standing.inner).toBeCloseTo(geometry.rollingElements, 12);
      expect(geometry.rollingElements * standing.cage).toBeCloseTo(standing.outer, 12);
      // With the outer ring turning the balls pass a point of the inner, standing one n times per cage turn.
      expect(geometry.rollingElements * turning.cage).toBeCloseTo(turning.inner, 12);
      expect(turning.outer).toBe(standing.outer);
    }
  });

  it('refuses what cannot be, naming the dimension', () => {
    const g = { rollingElements: 9, elementDiameterMm: 8, pitchDiameterMm: 39, contactAngleDeg: 0 };
    expect(() => bearingMultipliers({ ...g, rollingElements: 2.5 })).toThrow(/rolling elements/);
    expect(() => bearingMultipliers({ ...g, pitchDiameterMm: 7 })).toThrow(/pitch diameter/);
    expect(() => bearingMultipliers({ ...g, contactAngleDeg: 90 })).toThrow(/contact angle/);
  });
});

describe('knownBearing', () => {
  it('finds a designation with its suffixes, and nothing for an unknown one', () => {
    expect(knownBearing(' 6205-2RS C3')?.designation).toBe('6205');
    expect(knownBearing('62')).toBeNull();
  });
});

describe('bearingFromText', () => {
  it('takes a designation or four numbers, the angle being optional', () => {
    const expected = bearingMultipliers(knownBearing('6205')!.geometry);
    for (const text of ['6205', '6205-2RS', '9, 7.94, 39.04, 0', '9,7.94,39.04']) {
      expect(bearingFromText(text)).toEqual(expected);
    }
  });

  it('says what it wants', () => {
    for (const text of ['', '9', '9,,39,0', '9,a,39,0', '1,2,3,4,5', '6999']) {
      expect(() => bearingFromText(text)).toThrow(/6205, 6203/);
    }
    expect(() => bearingFromText('9,50,39,0')).toThrow(/pitch diameter/);
  });
});
