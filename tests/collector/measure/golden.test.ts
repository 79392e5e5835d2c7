import { describe, expect, it } from 'vitest';
import { bearingMultipliers } from '../../../collector/drivetrain/bearing.ts';
import { type MeasureOptions, measureFile } from '../../../collector/measure/measure-file.ts';
import { SKIPPED, sharedJson, sharedPath } from '../../support/shared-data.ts';

interface GoldenCase {
  file: string;
  fullScale: number;
  unit: MeasureOptions['unit'];
  expect: { velocityRmsMmPerS?: number; tolerancePct?: number; flag?: string; verdict?: string };
  measure: { speedRpm?: number; bearing?: [number, number, number, number] };
  about: string;
}

function multipliersOf([rollingElements, elementDiameterMm, pitchDiameterMm, contactAngleDeg]: number[]) {
  return bearingMultipliers({
    rollingElements: rollingElements!,
    elementDiameterMm: elementDiameterMm!,
    pitchDiameterMm: pitchDiameterMm!,
    contactAngleDeg: contactAngleDeg!,
  });
}

/** Synthetic recordings with answers known in closed form or by construction. */
const cases = sharedJson<GoldenCase[]>('golden', 'index.json');

describe.skipIf(cases === null)(`golden recordings${cases === null ? ` (${SKIPPED})` : ''}`, () => {
  it.each(cases ?? [])('$file: $about', async ({ file, fullScale, unit, measure, expect: expected }) => {
    const { speedRpm, bearing } = measure;
    const { channels } = await measureFile(sharedPath('golden', file), {
      fullScale,
      unit,
      ...(speedRpm !== undefined && { speedRpm }),
      ...(bearing !== undefined && { bearing: multipliersOf(bearing) }),
    });
    const [channel] = channels;
    if (expected.velocityRmsMmPerS !== undefined) {
      const errorPct = 100 * (channel!.velocityRmsMmPerS! / expected.velocityRmsMmPerS - 1);
      expect(Math.abs(errorPct)).toBeLessThan(expected.tolerancePct!);
    }
    if (expected.verdict !== undefined) expect(channel!.verdict).toBe(expected.verdict);
    expect(channel!.flags).toEqual(expected.flag === undefined ? [] : [expected.flag]);
  });
});
