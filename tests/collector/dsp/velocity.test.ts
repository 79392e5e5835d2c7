import { describe, expect, it } from 'vitest';
import { designRunningSumCompensator } from '../../../collector/dsp/integrator.ts';
import {
  createVelocityFilter,
  designVelocity,
  VELOCITY_CHUNK,
  velocitySensitivityAt,
} from '../../../collector/dsp/velocity.ts';
import { gaussianNoise } from '../../support/signals.ts';

describe('integration', () => {
  it.each([1600, 2560, 2600, 3200, 4000, 6400, 12_800, 25_600, 51_200])(
    'at %i Hz is right within 0.1 %% over the whole band',
    (rate) => {
      expect(designRunningSumCompensator(Math.min(1000, rate / 2.56), rate).largestError).toBeLessThan(1e-3);
    },
  );
});

describe('velocity filter', () => {
  it('answers one impulse with the sensitivity of its design at every frequency', () => {
    const rate = 3200;
    const design = designVelocity(rate, [10, 1000]);
    const filter = createVelocityFilter(design);
    const response: number[] = [];
    const impulse = new Float64Array(VELOCITY_CHUNK);
    impulse[0] = 1;
    for (let chunk = 0; chunk < 6; chunk++) {
      response.push(
        ...filter.run(chunk === 0 ? impulse : new Float64Array(VELOCITY_CHUNK), 0, VELOCITY_CHUNK, 0),
      );
    }
    for (const f of [8, 10, 20, 80, 500, 1000, 1200]) {
      const w = (2 * Math.PI * f) / rate;
      const real = response.reduce((s, v, n) => s + v * Math.cos(w * n), 0);
      const imaginary = response.reduce((s, v, n) => s + v * Math.sin(w * n), 0);
      const sensitivity = 2 * Math.PI * f * Math.hypot(real, imaginary);
      expect(sensitivity).toBeCloseTo(velocitySensitivityAt(design, f), 6);
    }
  });

  it('two filters at work in turn do not disturb each other', () => {
    const design = designVelocity(3200, [10, 1000]);
    const a = gaussianNoise(1, 1, 2000);
    const b = gaussianNoise(2, 1, 2000);
    const alone = createVelocityFilter(design);
    const expected = [alone.run(a, 0, 1000, 0).slice(), alone.run(a, 1000, 2000, 0).slice()];
    const [fa, fb] = [createVelocityFilter(design), createVelocityFilter(design)];
    const first = fa.run(a, 0, 1000, 0).slice();
    fb.run(b, 0, 1000, 0);
    const second = fa.run(a, 1000, 2000, 0).slice();
    expect([first, second]).toEqual(expected);
  });
});
