import { describe, expect, it } from 'vitest';
import { DEFAULT_LIMITS, velocityUncertainty } from '../../../collector/uncertainty/budget.ts';
import { forKnownSensor, mountedSensorUncertainty } from '../../../collector/uncertainty/known-sensor.ts';

describe('the uncertainty with a sensor that was checked', () => {
  it.each([0.005, 0.02, 0.05, 0.12])('is the budget made with its limit of %d', (sensitivity) => {
    const question = {
      velocityRmsMmPerS: 3.4,
      randomError: 0.06,
      noiseFloorMmPerS: 0.2,
      bandEdgeLimit: 0.01,
    };
    const made = (limit: number) =>
      velocityUncertainty({ ...question, limits: { ...DEFAULT_LIMITS, sensitivity: limit } })!.expandedMmPerS;
    const usual = made(DEFAULT_LIMITS.sensitivity);
    expect(forKnownSensor(3.4, usual, sensitivity)).toBeCloseTo(made(sensitivity), 12);
  });

  it.each([0.02, 0.05])('holds for a steady tone what the sensor alone adds, limit %d', (sensitivity) => {
    const alone = { velocityRmsMmPerS: 2, randomError: 0, noiseFloorMmPerS: 0, bandEdgeLimit: 0 };
    const made = velocityUncertainty({ ...alone, limits: { ...DEFAULT_LIMITS, sensitivity } })!;
    expect(2 * mountedSensorUncertainty(sensitivity)).toBeCloseTo(made.expandedMmPerS, 12);
  });
});
