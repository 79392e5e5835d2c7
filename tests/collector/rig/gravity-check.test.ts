import { describe, expect, it } from 'vitest';
import {
  FACES,
  faceOf,
  type StillPosition,
  solveGravityCheck,
} from '../../../collector/rig/gravity-check.ts';
import { beginCheck, missingFaces, takeSecond } from '../../../collector/rig/gravity-check-steps.ts';
import type { Vector } from '../../../collector/rig/vector.ts';
import { seeded } from '../../support/simulated-node.ts';

const G = 9.80665;
const SCALE = [1.021, 0.968, 1.004];
const OFFSET = [0.42, -0.77, 1.9];

/** What such a sensor reads for a true acceleration; `skew` tilts its x axis towards y. */
const reads = ([x, y, z]: Vector, skew = 0): Vector => [
  SCALE[0]! * (x * Math.cos(skew) + y * Math.sin(skew)) + OFFSET[0]!,
  SCALE[1]! * y + OFFSET[1]!,
  SCALE[2]! * z + OFFSET[2]!,
];

/** Gravity along a face that lies askew by up to so many degrees. */
function lying(index: number, askewDeg: number, random: () => number): Vector {
  const axis = index >> 1;
  const tilt = (askewDeg * Math.PI) / 180;
  const [a, b] = [tilt * (2 * random() - 1), tilt * (2 * random() - 1)];
  const v = [0, 0, 0];
  v[axis] = (index % 2 === 0 ? 1 : -1) * Math.sqrt(1 - Math.sin(a) ** 2 - Math.sin(b) ** 2);
  v[(axis + 1) % 3] = Math.sin(a);
  v[(axis + 2) % 3] = Math.sin(b);
  return [G * v[0]!, G * v[1]!, G * v[2]!];
}

function sixFaces(askewDeg: number, skew = 0): StillPosition[] {
  const random = seeded(5);
  return FACES.map((face, index) => ({
    face,
    meanMPerS2: reads(lying(index, askewDeg, random), skew),
    seconds: 5,
  }));
}

const slants: Vector[] = [
  [G / Math.sqrt(3), G / Math.sqrt(3), G / Math.sqrt(3)],
  [-G / Math.SQRT2, G / Math.SQRT2, 0],
  [G / Math.SQRT2, 0, -G / Math.SQRT2],
];
const slanted = (skew = 0): StillPosition[] =>
  slants.map((v) => ({ face: null, meanMPerS2: reads(v, skew), seconds: 5 }));

describe('six positions', () => {
  it.each([0, 3, 8])('give scale and offset, though the faces lie askew by %d degrees', (askewDeg) => {
    const result = solveGravityCheck(sixFaces(askewDeg))!;
    for (let axis = 0; axis < 3; axis++) {
      expect(result.scale[axis]).toBeCloseTo(SCALE[axis]!, 6);
      expect(result.offsetMPerS2[axis]).toBeCloseTo(OFFSET[axis]!, 5);
    }
    expect(result.residualMPerS2).toBeNull();
    // The worst axis is 3.2 % off; 1 % and 0.3 % are allowances.
    expect(result.tolerancePct).toBeCloseTo(3.2 + 1 + 0.3, 3);
  });

  it('are too few when one is missing', () => {
    expect(solveGravityCheck(sixFaces(0).slice(1))).toBeNull();
  });

  it('with slants leave a residual: none for straight axes, more for crooked ones', () => {
    expect(solveGravityCheck([...sixFaces(3), ...slanted()])!.residualMPerS2).toBeLessThan(1e-6);
    // An x axis that leans 2 degrees to y reads 45-degree slants wrong by g/2 sin 2 degrees: 0.17 m/s².
    const crooked = solveGravityCheck([...sixFaces(3, 0.035), ...slanted(0.035)])!;
    expect(crooked.residualMPerS2).toBeGreaterThan(0.05);
    expect(crooked.residualMPerS2).toBeLessThan(0.4);
    expect(crooked.tolerancePct).toBeGreaterThan(3.2 + 0.5);
  });

  it('hold against the noise of a cheap sensor', () => {
    const random = seeded(9);
    const noisy = sixFaces(4).map((position) => ({
      ...position,
      meanMPerS2: position.meanMPerS2.map((v) => v + 0.01 * (random() - 0.5)) as unknown as Vector,
    }));
    const result = solveGravityCheck(noisy)!;
    for (let axis = 0; axis < 3; axis++)
      expect(Math.abs(result.scale[axis]! - SCALE[axis]!)).toBeLessThan(0.002);
  });

  it('are told by the axis that points up', () => {
    expect(faceOf([0.3, -0.2, 9.7])).toBe('z+');
    expect(faceOf([0.3, -9.2, 1.9])).toBe('y-');
    expect(faceOf([6, 6, 5])).toBe('slanted');
    expect(faceOf([0, 0, 0])).toBeNull();
  });
});

describe('the guided check', () => {
  it('takes each position when it has lain still for a while, in any order', () => {
    const random = seeded(21);
    let progress = beginCheck();
    const feed = (v: Vector, seconds: number) => {
      for (let s = 0; s < seconds; s++)
        progress = takeSecond(progress, v.map((x) => x + 0.02 * (random() - 0.5)) as unknown as Vector);
    };
    for (const index of [4, 1, 0, 5, 3, 2]) {
      // While it is turned, each second reads something else.
      for (let s = 0; s < 3; s++) progress = takeSecond(progress, [9 * random(), 9 * random(), 9 * random()]);
      feed(reads(lying(index, 2, random)), 6);
    }
    expect(missingFaces(progress)).toEqual([]);
    expect(progress.positions).toHaveLength(6);
    for (const slant of slants) feed(reads(slant), 6);
    // The same slant again tells nothing new.
    feed(reads(slants[0]!), 6);
    expect(progress.positions).toHaveLength(9);
    const result = solveGravityCheck(progress.positions)!;
    for (let axis = 0; axis < 3; axis++)
      expect(Math.abs(result.scale[axis]! - SCALE[axis]!)).toBeLessThan(0.003);
    expect(result.residualMPerS2).toBeLessThan(0.03);
  });

  it('takes nothing that moves, is too short, or has no true mean', () => {
    let progress = beginCheck();
    for (let s = 0; s < 30; s++) progress = takeSecond(progress, [0, 0.2 * s, 9.8]);
    for (let s = 0; s < 3; s++) progress = takeSecond(progress, [0, 0, 9.8]);
    progress = takeSecond(progress, null);
    for (let s = 0; s < 3; s++) progress = takeSecond(progress, [0, 0, 9.8]);
    expect(progress.positions).toEqual([]);
    progress = takeSecond(progress, [0, 0, 9.8]);
    expect(missingFaces(progress)).not.toContain('z+');
  });
});
