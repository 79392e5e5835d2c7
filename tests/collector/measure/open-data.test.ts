import { describe, expect, it } from 'vitest';
import { type MeasureOptions, measureFile } from '../../../collector/measure/measure-file.ts';
import { SKIPPED, sharedJson, sharedPath } from '../../support/shared-data.ts';

interface Recording {
  id: string;
  file: string;
  unit: MeasureOptions['unit'];
  fullScale: number;
  snapshots?: { samplesEach: number; count: number };
}
interface Level {
  rms: number;
  peak: number;
  kurtosis: number;
}

const recordings = sharedJson<{ recordings: Recording[] }>('open-data', 'index.json')?.recordings ?? null;
/** Worked out with another language's signal library; in the unit of the recording, rounded to the digits given. */
const reference = sharedJson<{ recordings: Record<string, Level[]> }>('open-data', 'reference.json');

const suffix = recordings === null ? ` (${SKIPPED})` : '';

/** Half of the last digit that the reference gives, on top of 0.01 %. */
const tolerance = (value: number, digits: number) => 1e-4 * value + 0.5 * 10 ** -digits;

describe.skipIf(recordings === null)(`open recordings have the levels worked out elsewhere${suffix}`, () => {
  it.each((recordings ?? []).filter((r) => reference?.recordings[r.id]))('$id', async (recording) => {
    const { channels } = await measureFile(sharedPath('open-data', recording.file), recording);
    const inUnit = recording.unit === 'g' ? 9.80665 : 1;
    const expected = reference!.recordings[recording.id]!;
    expect(channels).toHaveLength(expected.length);
    channels.forEach((channel, i) => {
      const { rms, peak, kurtosis } = expected[i]!;
      expect(Math.abs(channel.accelerationRmsMPerS2! / inUnit - rms)).toBeLessThan(tolerance(rms, 5));
      expect(Math.abs(channel.accelerationPeakMPerS2! / inUnit - peak)).toBeLessThan(tolerance(peak, 4));
      expect(Math.abs(channel.kurtosis! - kurtosis)).toBeLessThan(tolerance(kurtosis, 3));
      expect(channel.flags).toEqual([]);
      expect(channel.velocityRmsMmPerS).toBeGreaterThan(0);
    });
  });

  it.each((recordings ?? []).filter((r) => r.snapshots))(
    '$id: joined snapshots, one by one',
    async (recording) => {
      const { samplesEach, count } = recording.snapshots!;
      const options = { ...recording, segmentSamples: samplesEach };
      const { channels } = await measureFile(sharedPath('open-data', recording.file), options);
      for (const channel of channels) {
        expect(channel.blocks).toHaveLength(count);
        expect(channel.velocityRmsMmPerS).toBeNull();
        expect(channel.flags).toEqual(['settling']);
        // Run to failure: the end is far louder than the start.
        const level = (from: number, to: number) =>
          channel.blocks.slice(from, to).map((b) => b.accelerationRmsMPerS2!);
        expect(Math.min(...level(-5, count))).toBeGreaterThan(3 * Math.max(...level(0, 5)));
      }
    },
  );
});
