import { describe, expect, it } from 'vitest';
import { clutchSlip, converterSlip, type ShaftSpeedValue } from '../../../collector/vehicle/index.ts';

const speed = (rpm: number, resolutionRpm: number, more: Partial<ShaftSpeedValue> = {}): ShaftSpeedValue => ({
  rpm,
  resolutionRpm,
  from: 'shaft-sensor',
  ...more,
});

function known(slip: ReturnType<typeof converterSlip>) {
  if (slip.answer !== 'slip') throw new Error(slip.reason);
  return slip;
}

describe('slip of the converter, by hand', () => {
  it('engine 2000 rpm in steps of 0.25, turbine 1900 rpm in steps of 1', () => {
    const slip = known(converterSlip(speed(2000, 0.25), speed(1900, 1), 'open'));
    expect(slip.slipRpm).toBe(100);
    expect(slip.slipPercent).toBeCloseTo(5, 12);
    // 2 x sqrt(0.25² / 12 + 1² / 12) = 2 x 0.29756
    expect(slip.uncertaintyRpm).toBeCloseTo(0.59512, 5);
    expect(slip.against).toBe('within');
    expect(slip.normal.provenance).toBe('common practice, no source');
  });

  it('a closed lock-up clutch that slips 60 rpm is outside of what is common', () => {
    expect(known(converterSlip(speed(2000, 0.25), speed(1940, 1), 'locked')).against).toBe('outside');
    expect(known(converterSlip(speed(2000, 0.25), speed(1940, 1), 'controlled')).against).toBe('within');
  });

  it('is not certain where the uncertainty reaches over the edge', () => {
    // 19 rpm with turbine steps of 16 rpm: +- 9.2 rpm around the edge at 20.
    expect(known(converterSlip(speed(1019, 0.25), speed(1000, 16), 'locked')).against).toBe('not-certain');
  });

  it('is below 0 where the vehicle drives the engine', () => {
    expect(known(converterSlip(speed(1500, 0.25), speed(1530, 1), 'open')).slipRpm).toBe(-30);
  });

  it('counts a changing speed read at two instants', () => {
    const steady = known(converterSlip(speed(2000, 0.25), speed(1990, 1), 'locked', 0.1));
    const pulling = known(
      converterSlip(
        speed(2000, 0.25, { changeRpmPerS: 100 }),
        speed(1990, 1, { changeRpmPerS: 100 }),
        'locked',
        0.1,
      ),
    );
    // 100 rpm/s x 0.1 s = 10 rpm at most: 2 x 10 / sqrt 3 more, added in squares.
    expect(pulling.uncertaintyRpm).toBeCloseTo(Math.hypot(steady.uncertaintyRpm, 20 / Math.sqrt(3)), 10);
  });
});

describe('slip of the clutches, by hand', () => {
  it('turbine 1800 rpm, output 1200 rpm, gear 1.480', () => {
    const slip = known(clutchSlip(speed(1800, 1), speed(1200, 1), 1.48));
    expect(slip.slipRpm).toBeCloseTo(24, 10);
    expect(slip.slipPercent).toBeCloseTo(1.3333, 4);
    // 2 x sqrt(1 + 1.48²) / sqrt 12 = 2 x 1.78617 / 3.46410
    expect(slip.uncertaintyRpm).toBeCloseTo(1.03124, 4);
    expect(slip.against).toBe('outside');
  });

  it('a sound gear is within', () => {
    expect(known(clutchSlip(speed(1776, 1), speed(1200, 1), 1.48)).against).toBe('within');
  });
});

describe('cannot say, and why', () => {
  it('from road speed in whole km/h', () => {
    const slip = clutchSlip(speed(1800, 1), speed(1200, 24, { from: 'road-speed' }), 1.48);
    expect(slip).toMatchObject({
      answer: 'cannot-say',
      reason: expect.stringMatching(/whole km\/h.*shaft speed/),
    });
  });

  it('from steps too coarse', () => {
    const slip = converterSlip(speed(2000, 0.25), speed(1984, 64), 'locked');
    expect(slip).toMatchObject({
      answer: 'cannot-say',
      reason: expect.stringMatching(/known to 37 rpm only/),
    });
  });

  it('at a standstill', () => {
    expect(converterSlip(speed(0, 0.25), speed(0, 1), 'open').answer).toBe('cannot-say');
  });

  it('refuses speeds and ratios that are none', () => {
    expect(() => converterSlip(speed(Number.NaN, 1), speed(0, 1), 'open')).toThrow(/engine speed/);
    expect(() => clutchSlip(speed(1000, -1), speed(0, 1), 1)).toThrow(/turbine speed's step/);
    expect(() => clutchSlip(speed(1000, 1), speed(1000, 1), 0)).toThrow(/ratio must be over 0/);
  });
});
