import { describe, expect, it } from 'vitest';
import { createChannelMeter, mergeBlocks } from '../../../collector/measure/channel-meter.ts';
import { DEFAULT_LIMITS, velocityUncertainty } from '../../../collector/uncertainty/budget.ts';
import { gaussianNoise, sum, velocitySine } from '../../support/signals.ts';

const RATE_HZ = 3200;
const NO_LIMITS = { sensitivity: 0, crossAxis: 0, temperature: 0, mounting: 0 };

function blocksOf(signal: Float64Array, limits = NO_LIMITS) {
  const meter = createChannelMeter({ sampleRateHz: RATE_HZ, fullScaleMPerS2: 160, limits });
  const blocks = [];
  for (let at = 0; at + RATE_HZ <= signal.length; at += RATE_HZ) {
    meter.feed(signal.subarray(at, at + RATE_HZ));
    blocks.push(meter.closeBlock());
  }
  return blocks.slice(2);
}

const mean = (values: number[]) => values.reduce((total, value) => total + value, 0) / values.length;
const spread = (values: number[]) => Math.sqrt(mean(values.map((value) => (value - mean(values)) ** 2)));

describe('the budget', () => {
  it('adds independent parts in squares and doubles the root (JCGM 100:2008, worked by hand)', () => {
    const limits = { ...NO_LIMITS, sensitivity: 0.05 };
    const result = velocityUncertainty({
      velocityRmsMmPerS: 4,
      randomError: 0.03,
      noiseFloorMmPerS: 0,
      bandEdgeLimit: 0,
      limits,
    });
    // u = sqrt((0.05 / sqrt 3)² + 0.03²) = 0.041633; U = 2 x 0.041633 x 4 = 0.33307 mm/s
    expect(result!.expandedMmPerS).toBeCloseTo(0.33307, 4);
  });

  it('grows without end towards the noise floor, and has nothing to say of zero', () => {
    const question = { randomError: 0, noiseFloorMmPerS: 0.1, bandEdgeLimit: 0, limits: NO_LIMITS };
    const at = (velocityRmsMmPerS: number) => velocityUncertainty({ ...question, velocityRmsMmPerS });
    expect(at(10)!.parts.noise).toBeLessThan(1e-4);
    expect(at(0.1)!.parts.noise).toBeCloseTo(1 / Math.sqrt(3), 6);
    expect(at(0)).toBeNull();
  });
});

describe('chance in a block of one second', () => {
  it('is about 9 % for flat acceleration noise, as its statistical bandwidth of 29 Hz says, and as simulated', () => {
    const blocks = blocksOf(gaussianNoise(11, 2, 400 * RATE_HZ));
    const values = blocks.map((block) => block.velocityRmsMmPerS!);
    const seen = spread(values) / mean(values);
    const stated = mean(blocks.map((block) => block.velocityRandomError!));
    expect(seen).toBeGreaterThan(0.07);
    expect(seen).toBeLessThan(0.11);
    expect(stated / seen).toBeGreaterThan(0.8);
    expect(stated / seen).toBeLessThan(1.25);
  });

  it('is next to nothing for a steady tone', () => {
    const blocks = blocksOf(
      sum(velocitySine(80, 5, RATE_HZ, 20 * RATE_HZ), gaussianNoise(5, 0.02, 20 * RATE_HZ)),
    );
    expect(blocks.at(-1)!.velocityRandomError!).toBeLessThan(0.01);
  });

  it('shrinks with the square root of the time that is merged', () => {
    const blocks = blocksOf(gaussianNoise(3, 2, 102 * RATE_HZ));
    const one = mean(blocks.map((block) => block.velocityRandomError!));
    const all = mergeBlocks(blocks, { noiseFloorMmPerS: 0, limits: NO_LIMITS }).velocityRandomError!;
    expect(all / (one / 10)).toBeGreaterThan(0.9);
    expect(all / (one / 10)).toBeLessThan(1.15);
  });
});

describe('the stated range', () => {
  it('holds the true value in about 95 of 100 blocks, chance and band edges together', () => {
    const signal = gaussianNoise(21, 2, 602 * RATE_HZ);
    const blocks = blocksOf(signal);
    // Density of white noise of RMS s up to rate/2, seen as velocity from 10 to 1000 Hz (closed form).
    const density = 4 / (RATE_HZ / 2);
    const truth = (1000 / (2 * Math.PI)) * Math.sqrt(density * (1 / 10 - 1 / 1000));
    const held = blocks.filter(
      (block) => Math.abs(block.velocityRmsMmPerS! - truth) <= block.velocityUncertaintyMmPerS!,
    ).length;
    expect(held / blocks.length).toBeGreaterThan(0.9);
    expect(held / blocks.length).toBeLessThan(0.995);
  });

  it('of a sensor nobody calibrated is some per cents wide even for a steady tone', () => {
    const block = blocksOf(velocitySine(80, 5, RATE_HZ, 10 * RATE_HZ), DEFAULT_LIMITS).at(-1)!;
    const relative = block.velocityUncertaintyMmPerS! / block.velocityRmsMmPerS!;
    expect(relative).toBeGreaterThan(0.05);
    expect(relative).toBeLessThan(0.1);
  });
});
