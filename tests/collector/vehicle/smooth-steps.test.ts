import { describe, expect, it } from 'vitest';
import { smoothSteps } from '../../../collector/vehicle/index.ts';

const atMs = Array.from({ length: 301 }, (_, k) => 200 * k);

describe('a value told in whole steps', () => {
  it('comes out near the smooth one behind it, several times nearer than the steps', () => {
    const truth = atMs.map((at) => 47 + 14 * Math.sin(at / 11_000));
    const steps = truth.map(Math.round);
    const smooth = smoothSteps(atMs, steps);
    const rms = (values: number[]) =>
      Math.sqrt(values.reduce((sum, value, k) => sum + (value - truth[k]!) ** 2, 0) / values.length);
    expect(rms(smooth)).toBeLessThan(rms(steps) / 2);
  });

  it('leaves constants and straight lines as they are, to the ends', () => {
    for (const line of [() => 50, (at: number) => 20 + at / 1000]) {
      const values = atMs.map(line);
      smoothSteps(atMs, values).forEach((value, k) => {
        expect(value).toBeCloseTo(values[k]!, 9);
      });
    }
    expect(smoothSteps([7], [3])).toEqual([3]);
    expect(smoothSteps([], [])).toEqual([]);
  });
});
