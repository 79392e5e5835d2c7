import { expect, it } from 'vitest';
import type { Flag } from '../../../collector/model.ts';
import { zoneLimitsMmPerS } from '../../../collector/zones/zones.ts';
import { CLASSES, flagText } from '../../../dashboard/web/words.ts';

it('shows the boundaries that the station judges by', () => {
  expect(CLASSES.map(({ machineClass }) => machineClass)).toEqual(['I', 'II', 'III', 'IV']);
  for (const { machineClass, boundariesMmPerS } of CLASSES)
    expect(boundariesMmPerS).toEqual(zoneLimitsMmPerS(machineClass));
});

it('spells out every flag that the station raises', () => {
  const flags: Record<Flag, true> = {
    clipped: true,
    gap: true,
    'below-noise-floor': true,
    'band-not-covered': true,
    settling: true,
    'unknown-scale': true,
    stuck: true,
    'time-unknown': true,
    rattle: true,
  };
  for (const flag of Object.keys(flags)) expect(flagText(flag)).toMatch(/: .{10}/);
});

it('shows an unknown flag rather than hiding it', () => {
  expect(flagText('mount-moved')).toBe('mount moved');
});
