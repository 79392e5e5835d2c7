import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  ago,
  band,
  bytes,
  cleanNodeId,
  frequency,
  isUsualBand,
  moment,
  NONE,
  nodeIdText,
  significant,
} from '../../../dashboard/web/format.ts';

describe('significant', () => {
  it.each([
    [2.3456, '2.35'],
    [0.84, '0.840'],
    [12.345, '12.3'],
    [123.45, '123'],
    [1234.5, '1230'],
    [9.996, '10.0'],
    [0.0456, '0.046'],
    [0.00042, '< 0.001'],
    [0, '0'],
    [-3.14, '-3.14'],
    [null, NONE],
    [Number.NaN, NONE],
    [Number.POSITIVE_INFINITY, NONE],
  ])('%s reads %s', (value, text) => expect(significant(value)).toBe(text));

  it('stays within half a step of the third digit, and never shows an exponent', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.1, max: 1e9, noNaN: true }), (value) => {
        const text = significant(value);
        expect(text).toMatch(/^\d+(\.\d+)?$/);
        expect(Math.abs(Number(text) - value)).toBeLessThanOrEqual(0.00501 * value);
      }),
    );
  });
});

it.each([
  [-400, 'now'],
  [300, 'now'],
  [3200, '3 s ago'],
  [59_400, '59 s ago'],
  [61_000, '1 min ago'],
  [3_599_000, '59 min ago'],
  [7_300_000, '2 h ago'],
  [3 * 86_400_000, '3 days ago'],
])('an age of %d ms reads "%s"', (ageMs, text) => expect(ago(ageMs)).toBe(text));

it('names a moment as far as needed', () => {
  const now = new Date(2025, 10, 25, 15, 0).getTime();
  expect(moment(new Date(2025, 10, 25, 14, 2).getTime(), now)).toBe('14:02');
  expect(moment(new Date(2025, 10, 24, 9, 5).getTime(), now)).toBe('24 Nov 09:05');
  expect(moment(new Date(2024, 0, 3, 0, 0).getTime(), now)).toBe('3 Jan 2024 00:00');
});

it('writes bands and frequencies no finer than they are known', () => {
  expect(band([10, 1000])).toBe('10 to 1000 Hz');
  expect(band([9.7, 624.8])).toBe('9.7 to 625 Hz');
  expect(isUsualBand([10, 1000])).toBe(true);
  expect(isUsualBand([10, 625])).toBe(false);
  expect(isUsualBand([2, 1000])).toBe(false);
  expect(frequency(24.37, 2)).toBe('24');
  expect(frequency(24.37, 0.5)).toBe('24.4');
  expect(frequency(24.37, 0.05)).toBe('24.37');
});

it('writes sizes', () => {
  expect(bytes(0)).toBe('0 B');
  expect(bytes(1_240_000_000)).toBe('1.24 GB');
});

it('takes node ids as people type them and shows them in groups', () => {
  expect(cleanNodeId('0xC1A0 0000:0000-0101')).toBe('c1a0000000000101');
  expect(cleanNodeId('C1-A0-00-00-00-00-01-01')).toBe('c1a0000000000101');
  expect(nodeIdText('c1a0000000000101')).toBe('c1a0 0000 0000 0101');
});
