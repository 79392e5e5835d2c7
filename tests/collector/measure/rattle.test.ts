import { describe, expect, it } from 'vitest';
import { createChannelMeter } from '../../../collector/measure/channel-meter.ts';
import { createRattleDetector, rattlingShare } from '../../../collector/measure/rattle.ts';
import { bangingSensor } from '../../support/banging-sensor.ts';
import { gaussian, seededRandom } from '../../support/machine-signals.ts';
import { rattleOutcomes } from '../../validate/rattle.ts';

describe('a rattling clamp', () => {
  it('is seen in most seconds in which it falsifies the level, and never where the sensor keeps contact', () => {
    const seen: Record<string, [number, number]> = {};
    let held = 0;
    for (const { group, falsified, tight, flagged } of rattleOutcomes(110, 411)) {
      // Blows through a soft mount look like a sensor that bounces: `npm run validate -- rattle` counts them.
      if (tight && group !== 'machine that hammers') {
        held++;
        expect(flagged, group).toBe(false);
      }
      if (!falsified) continue;
      const kind = group.split(',')[0]!;
      seen[kind] ??= [0, 0];
      seen[kind][0] += flagged ? 1 : 0;
      seen[kind][1] += 1;
    }
    expect(held).toBeGreaterThan(440);
    expect(Object.keys(seen).sort()).toEqual(['loose to both sides', 'loose to one side']);
    for (const [flagged, all] of Object.values(seen)) {
      expect(all).toBeGreaterThan(10);
      expect(flagged / all).toBeGreaterThan(0.5);
    }
  });

  it('is not taken from single knocks, a machine that starts, steps of a number format or a gap', () => {
    const random = seededRandom(413);
    const rate = 3200;
    const isRattling = createRattleDetector(rate);
    const noise = (rms: number) => Float64Array.from({ length: rate }, () => rms * gaussian(random));
    const knocks = noise(0.02);
    for (const at of [400, 1300, 2500]) for (let k = 0; k < 6; k++) knocks[at + k]! += 80 * Math.exp(-k / 2);
    const starts = noise(0.02).map((value, k) => value + (k > 2400 ? 20 * gaussian(random) : 0));
    const coarse = noise(0.02).map(
      (value, k) => 0.31 * Math.round((value + (k % 80 === 0 ? 0.3 : 0)) / 0.31),
    );
    const road = noise(1).map((value, k) => value + 15 * Math.sin((2 * Math.PI * 12 * k) / rate));
    for (const samples of [knocks, starts, coarse, road, noise(5), new Float64Array(rate)])
      expect(isRattling(samples)).toBe(false);
    expect(isRattling(Float64Array.of(1, 2, 3))).toBe(false);
    expect(isRattling(noise(1).map((value, k) => (k === 9 ? Number.NaN : value)))).toBe(false);
  });

  it('flags the block, and only while it lasts', () => {
    const rate = 3200;
    const { base, loose } = bangingSensor(rate, 6);
    loose.set(base.subarray(0, 3 * rate));
    const meter = createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: 1000 });
    const flags = Array.from({ length: 6 }, (_, k) => {
      meter.feed(loose.subarray(k * rate, (k + 1) * rate));
      return meter.closeBlock().flags.includes('rattle');
    });
    expect(flags).toEqual([false, false, false, true, true, true]);
    expect(rattlingShare(loose, rate)).toBe(0.5);
    // Without a scale nothing can be said of how hard it hits.
    const unscaled = createChannelMeter({ sampleRateHz: rate, fullScaleMPerS2: 0 });
    unscaled.feed(loose.subarray(4 * rate, 5 * rate));
    expect(unscaled.closeBlock().flags).not.toContain('rattle');
  });
});
