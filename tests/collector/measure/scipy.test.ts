import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { BandName } from '../../../collector/measure/band.ts';
import { createChannelMeter, mergeBlocks } from '../../../collector/measure/channel-meter.ts';
import { integerNoise } from '../../support/signals.ts';

interface Case {
  sampleRateHz: number;
  velocityRmsMmPerS: Record<BandName, number>;
  accelerationRmsMPerS2: number;
  accelerationPeakMPerS2: number;
  crestFactor: number;
  kurtosis: number;
}

/** Made by tests/golden/channel-meter.py with scipy. */
const golden: { seconds: number; cases: Case[] } = JSON.parse(
  readFileSync(new URL('../../golden/channel-meter.json', import.meta.url), 'utf8'),
);

const FULL_SCALE = 16 * 9.80665;

/** The samples of channel-meter.py, whole numbers until the last line. */
function samples(rate: number): Float64Array {
  const half = Math.floor(rate / 50);
  const next = integerNoise(12345);
  return Float64Array.from({ length: golden.seconds * rate }, (_, k) => {
    const place = k % (2 * half);
    const triangle = Math.floor(((place < half ? place : 2 * half - place) * 8000) / half) - 4000;
    const noise = (next() >>> 18) - 8192;
    return ((triangle + noise + (k % 997 === 0 ? 12000 : 0)) / 32768) * FULL_SCALE;
  });
}

describe('agrees with scipy on the same samples within 0.5 %', () => {
  it.each(golden.cases)('at $sampleRateHz Hz', (expected) => {
    const rate = expected.sampleRateHz;
    const signal = samples(rate);
    for (const band of ['10-1000', '2-1000'] as const) {
      const meter = createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: FULL_SCALE, band });
      const whole = mergeBlocks(
        Array.from({ length: golden.seconds }, (_, second) => {
          meter.feed(signal.subarray(second * rate, (second + 1) * rate));
          return meter.closeBlock();
        }),
      );
      expect(Math.abs(whole.velocityRmsMmPerS! / expected.velocityRmsMmPerS[band] - 1)).toBeLessThan(0.001);
      for (const key of [
        'accelerationRmsMPerS2',
        'accelerationPeakMPerS2',
        'crestFactor',
        'kurtosis',
      ] as const) {
        expect(Math.abs(whole[key]! / expected[key] - 1), key).toBeLessThan(1e-9);
      }
    }
  });
});
