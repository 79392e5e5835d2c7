import { describe, expect, it } from 'vitest';
import { createChannelMeter } from '../../../collector/measure/channel-meter.ts';
import type { Reading } from '../../../collector/model.ts';
import { judgeShaker } from '../../../collector/rig/shaker-check.ts';
import { gaussianNoise } from '../../support/signals.ts';

const RATE = 3200;
const REFERENCE = { frequencyHz: 159.2, accelerationRmsMPerS2: 10, tolerancePct: 3 };

/** What the station's own meter makes of `signal` on the z axis, with a tenth of it across. */
function measured(signal: (t: number) => number, seconds = 12): Reading[] {
  const noise = gaussianNoise(5, 0.05, seconds * RATE);
  const meters = [0.1, 1].map(() => createChannelMeter({ sampleRateHz: RATE, fullScaleMPerS2: 160 }));
  return Array.from({ length: seconds }, (_, s): Reading => {
    const blocks = meters.map((meter, axis) => {
      meter.feed(
        Float64Array.from(
          { length: RATE },
          (_, i) => 9.8 * axis + (axis === 1 ? 1 : 0.1) * signal(s + i / RATE) + noise[s * RATE + i]!,
        ),
      );
      return meter.closeBlock();
    });
    return {
      nodeId: '00000000000000a1',
      sensor: 0,
      startMs: 1000 * s,
      durationS: 1,
      sampleRateHz: RATE,
      bandHz: [10, 1000],
      axes: blocks.map((block, i) => ({ ...block, axis: i === 0 ? 'x' : 'z' })),
      flags: blocks.flatMap(({ flags }) => flags),
    };
  });
}
const tone =
  (rms: number, hz = 159.2) =>
  (t: number) =>
    rms * Math.SQRT2 * Math.sin(2 * Math.PI * hz * t);

describe('a sensor on a reference shaker', () => {
  it.each([10.3, 9.6, 10])('that reads %f of 10 m/s² is off by that, and its tolerance holds it', (rms) => {
    const result = judgeShaker(measured(tone(rms)), REFERENCE);
    expect(result).toMatchObject({ axis: 'z', seconds: 10, reference: REFERENCE });
    expect(result.measuredRmsMPerS2).toBeCloseTo(rms, 2);
    expect(result.deviationPct).toBeCloseTo(10 * rms - 100, 1);
    expect(result.tolerancePct).toBeGreaterThanOrEqual(Math.abs(result.deviationPct) + 3);
    expect(result.tolerancePct).toBeLessThan(Math.abs(result.deviationPct) + 3.3);
  });

  it('is refused, with the reason, where what it feels is not the reference', () => {
    const says =
      (readings: Reading[], reference = REFERENCE) =>
      () =>
        judgeShaker(readings, reference);
    const sound = measured(tone(10));
    expect(says([])).toThrow(/0 sound seconds on end/);
    expect(says(sound.slice(0, 4))).toThrow(/at least 5/);
    // A hole, and a second that hit the end of the range.
    expect(says(sound.filter((_, s) => s !== 8))).toThrow(/3 sound seconds/);
    expect(says(sound.map((one, s) => (s === 9 ? { ...one, flags: ['clipped'] } : one)))).toThrow(
      /2 sound seconds/,
    );
    expect(says(measured((t) => tone(10)(t) * (1 + t / 100)))).toThrow(/still changes by/);
    expect(says(measured(tone(10, 80)))).toThrow(/no pure tone of 159\.2 Hz/);
    const humming = (t: number) => tone(10)(t) + tone(5, 50)(t);
    expect(says(measured(humming))).toThrow(/no pure tone/);
    expect(says(measured(tone(3)))).toThrow(/check that it sits on the shaker/);
    expect(says(sound, { ...REFERENCE, frequencyHz: 5 })).toThrow(/12\.5 to 800 Hz/);
  });
});
