import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type ChannelBlock,
  type ChannelMeterOptions,
  createChannelMeter,
  mergeBlocks,
} from '../../../collector/measure/channel-meter.ts';
import { gaussianNoise, quantise16, sum, velocitySine } from '../../support/signals.ts';

const FULL_SCALE = 16 * 9.80665;

/** Feeds whole seconds and closes a block after each. */
function measure(signal: Float64Array, sampleRateHz: number, options: Partial<ChannelMeterOptions> = {}) {
  const meter = createChannelMeter({ sampleRateHz, fullScaleMPerS2: FULL_SCALE, ...options });
  const blocks: ChannelBlock[] = [];
  for (let at = 0; at < signal.length; at += sampleRateHz) {
    meter.feed(signal.subarray(at, at + sampleRateHz));
    blocks.push(meter.closeBlock());
  }
  return { meter, blocks, whole: mergeBlocks(blocks) };
}

describe('velocity of a sine is a / (2 pi f sqrt 2) (analytic)', () => {
  const cases = [3200, 6400, 25_600].flatMap((rate) =>
    [12.5, 16, 25, 50, 80, 100, 160, 200, 315, 400, 500, 630, 800].map((f) => [rate, f] as const),
  );
  it.each(cases)('within 1 %% at %i Hz rate, %f Hz, on gravity and in 16-bit steps', (rate, f) => {
    const sine = velocitySine(f, 5, rate, 4 * rate).map((v) => v + 9.80665);
    const { whole } = measure(quantise16(sine, FULL_SCALE), rate);
    expect(whole.velocityRmsMmPerS! / 5).toBeGreaterThan(0.99);
    expect(whole.velocityRmsMmPerS! / 5).toBeLessThan(1.01);
    expect(whole.flags).toEqual([]);
  });
});

describe('ISO 2954-style tolerance of relative sensitivity (from secondary texts)', () => {
  const TOLERANCE: [number, number, number][] = [
    [10, 0.8, 1.1],
    [20, 0.9, 1.1],
    [40, 0.9, 1.1],
    [80, 0.998, 1.002],
    [160, 0.9, 1.1],
    [500, 0.9, 1.1],
    [1000, 0.8, 1.1],
  ];
  const RATES = [
    1600, 2000, 2560, 3200, 3332, 4000, 5000, 6667, 8000, 12_000, 16_000, 25_600, 44_100, 48_000, 51_200,
  ];
  it.each(RATES)('holds at %i Hz, as far as the band reaches', (rate) => {
    const { meter } = measure(new Float64Array(0), rate);
    expect(meter.bandHz).toEqual([10, Math.min(1000, rate / 2.56)]);
    for (const [f, low, high] of TOLERANCE.filter(([f]) => f <= meter.bandHz[1])) {
      const { whole } = measure(velocitySine(f, 10, rate, 3 * rate), rate);
      expect(whole.velocityRmsMmPerS! / 10, `${f} Hz`).toBeGreaterThanOrEqual(low);
      expect(whole.velocityRmsMmPerS! / 10, `${f} Hz`).toBeLessThanOrEqual(high);
    }
  });

  it('holds for 2-1000 Hz shifted down to 2 Hz', () => {
    for (const [f, low] of [
      [2, 0.8],
      [4, 0.99],
      [16, 0.999],
      [1000, 0.8],
    ] as const) {
      const { meter, whole } = measure(velocitySine(f, 10, 3200, 8 * 3200), 3200, { band: '2-1000' });
      expect(meter.bandHz).toEqual([2, 1000]);
      expect(whole.velocityRmsMmPerS! / 10, `${f} Hz`).toBeGreaterThan(low);
      expect(whole.velocityRmsMmPerS! / 10, `${f} Hz`).toBeLessThan(1.001);
    }
  });

  it('holds at 10 and 1000 Hz while the true rate is 1 % off the design rate', () => {
    for (const [rate, ratio] of [
      [3200, 0.99],
      [3200, 1.01],
      [25_600, 0.99],
      [25_600, 1.01],
    ] as const) {
      for (const f of [10, 1000]) {
        const meter = createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: FULL_SCALE });
        meter.setTrueRateHz(rate * ratio);
        const signal = velocitySine(f, 10, rate * ratio, 3 * rate);
        meter.feed(signal.subarray(0, 2 * rate));
        meter.closeBlock();
        meter.feed(signal.subarray(2 * rate));
        const sensitivity = meter.closeBlock().velocityRmsMmPerS! / 10;
        expect(sensitivity).toBeGreaterThan(0.8);
        expect(sensitivity).toBeLessThan(1.1);
      }
    }
  });
});

describe('what lies below the band', () => {
  const rate = 3200;
  const slow = (f: number, amplitude: number, seconds: number) =>
    Float64Array.from(
      { length: seconds * rate },
      (_, i) => amplitude * Math.sin((2 * Math.PI * f * i) / rate),
    );

  it('gravity and body motion of 3 m/s2 at 0.5 and 2 Hz read under 0.01 mm/s from the first valid block on', () => {
    const gravity = new Float64Array(5 * rate).fill(9.80665);
    const { blocks } = measure(sum(gravity, slow(0.5, 3, 5), slow(2, 3, 5)), rate);
    expect(blocks[0]!.velocityRmsMmPerS).toBeNull();
    for (const block of blocks.slice(1)) expect(block.velocityRmsMmPerS!).toBeLessThan(0.01);
  });

  it('a drift of 1 m/s2 in 5 s, as of a sensor that warms up, adds nothing', () => {
    const drift = Float64Array.from({ length: 5 * rate }, (_, i) => (0.2 * i) / rate);
    const { blocks } = measure(sum(drift, velocitySine(50, 3, rate, 5 * rate)), rate);
    for (const block of blocks.slice(1)) expect(block.velocityRmsMmPerS! / 3).toBeCloseTo(1, 3);
  });

  it.each([25_600, 51_200])(
    'rounding stays under 1e-6 mm/s at %i Hz and a corner at 2 Hz, on gravity',
    (fast) => {
      const { blocks } = measure(new Float64Array(8 * fast).fill(9.80665), fast, { band: '2-1000' });
      for (const block of blocks.slice(5)) expect(block.velocityRmsMmPerS!).toBeLessThan(1e-6);
      const tiny = velocitySine(5, 0.01, fast, 8 * fast).map((v) => v + 9.80665);
      for (const block of measure(tiny, fast, { band: '2-1000' }).blocks.slice(5)) {
        expect(block.velocityRmsMmPerS! / 0.01).toBeCloseTo(1, 4);
      }
    },
  );
});

describe('settling', () => {
  it('gives no velocity until the filter has settled, then a right one at once', () => {
    const { blocks } = measure(
      velocitySine(12.5, 4, 3200, 3 * 3200).map((v) => v - 9.80665),
      3200,
    );
    expect(blocks.map((b) => b.flags)).toEqual([['settling'], [], []]);
    expect(blocks[0]!.velocityRmsMmPerS).toBeNull();
    expect(blocks[0]!.accelerationRmsMPerS2).not.toBeNull();
    expect(blocks[1]!.velocityRmsMmPerS! / blocks[2]!.velocityRmsMmPerS!).toBeCloseTo(1, 3);
  });

  it('a block that holds any unsettled sample has no velocity', () => {
    const meter = createChannelMeter({ sampleRateHz: 3200, fullScaleMPerS2: FULL_SCALE });
    const signal = velocitySine(80, 4, 3200, 3 * 3200);
    meter.feed(signal.subarray(0, 1600));
    expect(meter.closeBlock().flags).toEqual(['settling']);
    meter.feed(signal.subarray(1600, 4800));
    expect(meter.closeBlock().flags).toEqual(['settling']);
    meter.feed(signal.subarray(4800, 8000));
    expect(meter.closeBlock().flags).toEqual([]);
  });

  it('starts again after a reset, as a new meter would', () => {
    const signal = gaussianNoise(1, 2, 3 * 3200);
    const { meter, blocks } = measure(signal, 3200);
    meter.reset();
    for (let k = 0; k < 3; k++) {
      meter.feed(signal.subarray(k * 3200, (k + 1) * 3200));
      expect(meter.closeBlock()).toEqual(blocks[k]);
    }
  });
});

describe('laws', () => {
  const rate = 1600;
  const signal = gaussianNoise(5, 2, 3 * rate);
  const reference = measure(signal, rate).whole;

  it('levels scale with the signal, shape values do not; a constant on top changes nothing', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.01, max: 20, noNaN: true }),
        fc.double({ min: -10, max: 10, noNaN: true }),
        (k, offset) => {
          const { whole } = measure(
            signal.map((v) => k * v + offset),
            rate,
            { fullScaleMPerS2: 1e6 },
          );
          expect(whole.velocityRmsMmPerS! / reference.velocityRmsMmPerS! / k).toBeCloseTo(1, 6);
          expect(whole.accelerationRmsMPerS2! / reference.accelerationRmsMPerS2! / k).toBeCloseTo(1, 6);
          expect(whole.accelerationPeakMPerS2! / reference.accelerationPeakMPerS2! / k).toBeCloseTo(1, 6);
          expect(whole.crestFactor! / reference.crestFactor!).toBeCloseTo(1, 6);
          expect(whole.kurtosis! / reference.kurtosis!).toBeCloseTo(1, 6);
        },
      ),
      { numRuns: 25 },
    );
  });

  it('the pieces in which samples arrive change nothing, to the last bit', () => {
    const expected = measure(signal, rate).blocks;
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 1500 }), { minLength: 1, maxLength: 12 }), (sizes) => {
        const meter = createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: FULL_SCALE });
        const blocks = [0, 1, 2].map((block) => {
          let at = block * rate;
          for (let i = 0; at < (block + 1) * rate; i++) {
            const to = Math.min(at + sizes[i % sizes.length]!, (block + 1) * rate);
            meter.feed(signal.subarray(at, to));
            at = to;
          }
          return meter.closeBlock();
        });
        expect(blocks).toEqual(expected);
      }),
      { numRuns: 25 },
    );
  });

  it('blocks of any length merge into the same whole, but for velocity lost while settling', () => {
    const meter = createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: FULL_SCALE });
    const blocks: ChannelBlock[] = [];
    for (let at = 0; at < signal.length; at += 400) {
      meter.feed(signal.subarray(at, at + 400));
      blocks.push(meter.closeBlock());
    }
    const whole = mergeBlocks(blocks);
    for (const key of [
      'velocityRmsMmPerS',
      'accelerationRmsMPerS2',
      'accelerationPeakMPerS2',
      'crestFactor',
      'kurtosis',
    ] as const) {
      expect(whole[key]! / reference[key]!, key).toBeCloseTo(1, 10);
    }
  });
});

describe('true sample rate', () => {
  it('scales velocity by design over true rate', () => {
    for (const trueRate of [3104, 3168, 3200, 3232, 3296]) {
      const meter = createChannelMeter({ sampleRateHz: 3200, fullScaleMPerS2: FULL_SCALE });
      meter.setTrueRateHz(trueRate);
      const signal = velocitySine(100, 5, trueRate, 6400);
      meter.feed(signal.subarray(0, 3200));
      meter.closeBlock();
      meter.feed(signal.subarray(3200));
      expect(meter.closeBlock().velocityRmsMmPerS! / 5).toBeCloseTo(1, 3);
    }
  });

  it('refuses a rate that needs a new design', () => {
    const meter = createChannelMeter({ sampleRateHz: 3200, fullScaleMPerS2: FULL_SCALE });
    expect(() => meter.setTrueRateHz(3400)).toThrow(/3400 Hz is more than 5 % off/);
    expect(() => meter.setTrueRateHz(Number.NaN)).toThrow(RangeError);
    expect(() => meter.setTrueRateHz(0)).toThrow(RangeError);
  });
});

describe('flags', () => {
  it('band-not-covered below 2560 Hz, with the band that is covered', () => {
    const { meter, whole } = measure(velocitySine(80, 5, 1600, 3200), 1600);
    expect(meter.bandHz).toEqual([10, 625]);
    expect(whole.flags).toEqual(['band-not-covered']);
    expect(whole.velocityRmsMmPerS).toBeCloseTo(5, 2);
  });

  it('unknown-scale: no value at all', () => {
    for (const fullScaleMPerS2 of [0, Number.NaN]) {
      const { whole } = measure(gaussianNoise(1, 1, 6400), 3200, { fullScaleMPerS2 });
      expect(whole.flags).toEqual(['unknown-scale']);
      const { velocityRmsMmPerS, accelerationRmsMPerS2, accelerationPeakMPerS2, crestFactor, kurtosis } =
        whole;
      const values = [
        velocityRmsMmPerS,
        accelerationRmsMPerS2,
        accelerationPeakMPerS2,
        crestFactor,
        kurtosis,
      ];
      expect(values).toEqual([null, null, null, null, null]);
    }
  });

  it('below-noise-floor: sensor noise alone has it and reads its analytic level, ten times it has not', () => {
    // v = n / (2 pi) sqrt(1/10 - 1/1000); 100 micro-g per root Hz reads 0.0491 mm/s.
    const density = 100e-6 * 9.80665;
    const noise = gaussianNoise(9, density * Math.sqrt(1600), 20 * 3200);
    const quiet = measure(noise, 3200, { noiseDensityMPerS2PerRtHz: density }).whole;
    expect(quiet.velocityRmsMmPerS! / 0.0491).toBeGreaterThan(0.9);
    expect(quiet.velocityRmsMmPerS! / 0.0491).toBeLessThan(1.15);
    expect(quiet.flags).toContain('below-noise-floor');
    const loud = measure(sum(noise, velocitySine(80, 0.49, 3200, noise.length)), 3200, {
      noiseDensityMPerS2PerRtHz: density,
    }).whole;
    expect(loud.flags).toEqual([]);
  });

  it('a sample that is no number spoils its block alone', () => {
    const signal = gaussianNoise(2, 1, 5 * 3200);
    signal[3500] = Number.NaN;
    const { blocks, whole } = measure(signal, 3200);
    expect(blocks.map((b) => b.flags)).toEqual([['settling'], ['gap'], ['settling'], [], []]);
    expect(blocks[1]!.accelerationRmsMPerS2).toBeNull();
    expect(blocks[4]!.velocityRmsMmPerS).toBeGreaterThan(0);
    expect(whole.flags).toEqual(['gap']);
    expect(whole.kurtosis).toBeGreaterThan(2.5);
  });

  it('an empty block is no measurement', () => {
    const { whole } = measure(new Float64Array(0), 3200);
    expect(mergeBlocks([])).toEqual(whole);
    const block = createChannelMeter({ sampleRateHz: 3200, fullScaleMPerS2: 1 }).closeBlock();
    expect(block.sampleCount).toBe(0);
    expect(block.velocityRmsMmPerS).toBeNull();
  });

  it('refuses rates that do not cover the band', () => {
    for (const rate of [0, 50, Number.NaN, Number.POSITIVE_INFINITY]) {
      expect(() => createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: 1 })).toThrow(
        /too low for the band/,
      );
    }
    expect(createChannelMeter({ sampleRateHz: 51.2, fullScaleMPerS2: 1 }).bandHz).toEqual([10, 20]);
  });
});
