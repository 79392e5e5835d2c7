import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Trend } from '../../../dashboard/contract/model.ts';
import {
  axisEnd,
  highestPoint,
  labelStep,
  largestMagnitude,
  spectrumPoints,
  waveformPoints,
} from '../../../dashboard/web/state/live-series.ts';
import {
  lastHour,
  minutesBetweenLabels,
  shownFromMs,
  trendSeries,
  trendSummary,
} from '../../../dashboard/web/state/trend-series.ts';

const window = { fromMs: 0, toMs: 100_000, points: 10 };
const trend = (timeMs: number[], rest: Partial<Trend> = {}): Trend => ({
  timeMs,
  value: timeMs.map(() => 2),
  minimum: timeMs.map(() => 1),
  maximum: timeMs.map(() => 3),
  count: timeMs.map(() => 10),
  flagged: timeMs.map(() => 0),
  ...rest,
});

describe('trend', () => {
  it('asks for slots that stay where they are between two reads', () => {
    expect(lastHour(3_600_000 * 5 + 1)).toEqual(lastHour(3_600_000 * 5 + 9_999));
    const { fromMs, toMs, points } = lastHour(3_612_345);
    expect([fromMs, toMs, points]).toEqual([20_000, 3_620_000, 360]);
  });

  it('breaks the line where slots are missing', () => {
    const series = trendSeries(trend([5_000, 15_000, 45_000]), window);
    expect(series.value).toEqual([
      { x: 5_000, y: 2 },
      { x: 15_000, y: 2 },
      { x: 30_000, y: null },
      { x: 45_000, y: 2 },
    ]);
    expect(series.minimum.map(({ x }) => x)).toEqual(series.value.map(({ x }) => x));
    expect(series.gapCount).toBe(1);
  });

  it('breaks the line where another sensor took over, without calling it a gap', () => {
    const stretch = { nodeId: 'c1a0000000000101', sensor: 0 };
    const stretches = [
      { ...stretch, fromMs: 0, toMs: 10_000 },
      { ...stretch, sensor: 1, fromMs: 10_000, toMs: 100_000 },
    ];
    const series = trendSeries(trend([5_000, 15_000], { stretches }), window);
    expect(series.value[1]).toEqual({ x: 10_000, y: null });
    expect(series.gapCount).toBe(0);
    expect(series.changes).toEqual([{ atMs: 10_000, what: 'the sensor was changed' }]);
  });

  it('marks slots with flagged readings, also those without any value', () => {
    const flagged = trend([5_000, 15_000, 25_000], { value: [2, null, 2], flagged: [0, 10, 3] });
    expect(trendSeries(flagged, window).flaggedMs).toEqual([15_000, 25_000]);
  });

  it('lets a short history fill the picture', () => {
    const hour = lastHour(7_200_000);
    const from = (firstMs: number) => shownFromMs(trend([firstMs]), hour);
    expect(from(hour.fromMs + 5_000)).toBe(hour.fromMs + 5_000);
    expect(from(hour.toMs - 900_000)).toBe(hour.toMs - 900_000);
    expect(from(hour.toMs - 20_000)).toBe(hour.toMs - 300_000);
    expect(shownFromMs(trend([]), hour)).toBe(hour.fromMs);
    expect([5, 12, 30, 60].map((minutes) => minutesBetweenLabels(minutes * 60_000))).toEqual([1, 2, 5, 10]);
  });

  it('says it in words', () => {
    const data = trend([5_000, 15_000, 45_000], { flagged: [0, 4, 0] });
    const text = trendSummary(data, trendSeries(data, window), 'mm/s');
    expect(text).toContain('lowest 1.00 mm/s, highest 3.00 mm/s, newest 2.00 mm/s.');
    expect(text).toContain('1 gap without data.');
    expect(text).toContain('4 flagged readings left out');
    const none = trend([]);
    expect(trendSummary(none, trendSeries(none, window), '')).toBe('No valid reading in the last hour.');
  });
});

describe('live pictures', () => {
  it('spreads a waveform over its second', () => {
    expect(waveformPoints([1, 2, 3, 4], 1).map(({ x }) => x)).toEqual([0, 0.25, 0.5, 0.75]);
    expect(waveformPoints([], 1)).toEqual([]);
  });

  it('puts each line of a spectrum at its frequency and leaves 0 Hz out', () => {
    expect(spectrumPoints([9, 1, 2], 2.5)).toEqual([
      { x: 2.5, y: 1 },
      { x: 5, y: 2 },
    ]);
  });

  it('finds the highest line and the largest swing', () => {
    expect(highestPoint(spectrumPoints([9, 1, 4, 2], 10))).toEqual({ x: 20, y: 4 });
    expect(highestPoint([])).toBeNull();
    expect(largestMagnitude([1, -5, 3])).toBe(5);
  });

  it('never cuts the signal, and wastes at most four fifths plus the step up', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 1e-6, max: 1e4, noNaN: true }), { minLength: 1 }), (levels) => {
        let end: number | null = null;
        for (const level of levels) {
          end = axisEnd(end, level);
          expect(end).toBeGreaterThanOrEqual(level);
          expect(end).toBeLessThanOrEqual(level / 0.15 + 1e-12);
        }
      }),
    );
  });

  it('labels an axis in four or five even steps', () => {
    expect([1, 2, 5, 0.2, 500].map(labelStep)).toEqual([0.2, 0.5, 1, 0.05, 100]);
  });

  it('keeps the scale while the signal stays in the same range', () => {
    expect(axisEnd(5, 4.9)).toBe(5);
    expect(axisEnd(5, 1)).toBe(5);
    expect(axisEnd(5, 0.5)).toBe(1);
    expect(axisEnd(5, 5.2)).toBe(10);
    expect(axisEnd(5, 0)).toBe(5);
    expect(axisEnd(null, 0)).toBe(1);
  });
});
