import { describe, expect, it } from 'vitest';
import { type MeasureOptions, measureFile } from '../../../collector/measure/measure-file.ts';
import { SKIPPED, sharedJson, sharedPath } from '../../support/shared-data.ts';

interface GoldenCase {
  file: string;
  fullScale: number;
  unit: MeasureOptions['unit'];
  expect: { velocityRmsMmPerS?: number; tolerancePct?: number; flag?: string };
  about: string;
}

/** Synthetic recordings with answers known in closed form; the bearing verdicts are checked elsewhere. */
const cases = sharedJson<GoldenCase[]>('golden', 'index.json');

describe.skipIf(cases === null)(`golden recordings${cases === null ? ` (${SKIPPED})` : ''}`, () => {
  it.each(cases ?? [])('$file: $about', async ({ file, fullScale, unit, expect: expected }) => {
    const { channels } = await measureFile(sharedPath('golden', file), { fullScale, unit });
    const [channel] = channels;
    if (expected.velocityRmsMmPerS !== undefined) {
      const errorPct = 100 * (channel!.velocityRmsMmPerS! / expected.velocityRmsMmPerS - 1);
      expect(Math.abs(errorPct)).toBeLessThan(expected.tolerancePct!);
    }
    expect(channel!.flags).toEqual(expected.flag === undefined ? [] : [expected.flag]);
  });
});
