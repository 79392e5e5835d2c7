import { describe, expect, it } from 'vitest';
import { orderSpectrum } from '../../../collector/analysis/order-spectrum.ts';
import { shaftOrders } from '../../../collector/analysis/shaft-orders.ts';

const RATE = 3200;
const speed = { name: 'output shaft', timeS: [0, 5, 10], hz: [12, 30, 18] };
/** Turns by time t: the integral of the speed above. */
const turnsAt = (t: number) => (t < 5 ? 12 * t + 1.8 * t * t : 105 + 30 * (t - 5) - 1.2 * (t - 5) ** 2);
const record = Float64Array.from({ length: 10 * RATE }, (_, k) => {
  const angle = 2 * Math.PI * turnsAt(k / RATE);
  return 2 * Math.cos(angle) + 0.7 * Math.cos(3.58 * angle);
});

describe('orderSpectrum', () => {
  it('gathers what follows the shaft into lines of the right height', () => {
    const { stepOrders, amplitudeRms, turns } = orderSpectrum(record, RATE, speed, {
      highestOrder: 8,
      window: 'flat-top',
    });
    expect(turns).toBeCloseTo(225, 1);
    const around = (order: number) => {
      const k = Math.round(order / stepOrders);
      return Math.max(...amplitudeRms.subarray(k - 3, k + 4)) * Math.SQRT2;
    };
    expect(around(1)).toBeCloseTo(2, 1.7);
    expect(around(3.58)).toBeCloseTo(0.7, 1.7);
    expect(around(2.3)).toBeLessThan(0.01);
    expect((amplitudeRms.length - 1) * stepOrders).toBeLessThanOrEqual(8);
  });

  it('refuses a shaft that hardly turns', () => {
    const still = { name: 'axle', timeS: [0], hz: [0.01] };
    expect(() => orderSpectrum(record, RATE, still, { highestOrder: 8 })).toThrow(/axle turns 0.10 times/);
    expect(() => orderSpectrum(record, RATE, speed, { highestOrder: 0 })).toThrow(/highest order/);
  });
});

describe('shaftOrders over a varying speed', () => {
  it('finds the order that a plain spectrum smears', () => {
    const question = { samples: record, sampleRateHz: RATE, shaftHz: 22.5 };
    const [first] = shaftOrders({ ...question, speed });
    expect(first!.order).toBe(1);
    expect(first!.velocityRmsMmPerS).toBeCloseTo(((2 / Math.SQRT2) * 1000) / (2 * Math.PI * 22.5), 0);
    const smeared = shaftOrders(question).find((line) => line.order === 1)?.velocityRmsMmPerS ?? 0;
    expect(smeared).toBeLessThan(0.3 * first!.velocityRmsMmPerS);
  });
});
