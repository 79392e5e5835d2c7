import { describe, expect, it } from 'vitest';
import { dayTicks, gapsOf, weeksSeries, windowOf } from '../../../dashboard/web/state/weeks-series.ts';

const DAY_MS = 86_400_000;
const point = (day: number, stretch = 1) => ({
  timeMs: day * DAY_MS,
  runId: null,
  value: day,
  low: null,
  high: null,
  bins: ['any'],
  stretch,
});

describe('runs over weeks as a line', () => {
  const points = [0, 2, 4, 6, 30, 32].map((day) => point(day));

  it('is broken where nothing was measured for long', () => {
    const line = weeksSeries(points);
    expect(line.filter(({ y }) => y === null).map(({ x }) => x / DAY_MS)).toEqual([18]);
    expect(gapsOf(points)).toEqual([{ fromMs: 6 * DAY_MS, toMs: 30 * DAY_MS }]);
  });

  it('is broken between stretches, however near', () => {
    const line = weeksSeries([point(0), point(2), point(3, 2), point(5, 2)]);
    expect(line.map(({ y }) => y)).toEqual([0, 2, null, 3, 5]);
  });

  it('takes one long step between few runs for a gap only beyond a week', () => {
    expect(gapsOf([point(0), point(7)])).toEqual([]);
    expect(gapsOf([])).toEqual([]);
  });
});

describe('spans to look at', () => {
  it('are whole days and can be shifted back', () => {
    const nowMs = 100.3 * DAY_MS;
    expect(windowOf('4', 0, nowMs)).toEqual({ fromMs: 73 * DAY_MS, toMs: 101 * DAY_MS });
    expect(windowOf('4', 2, nowMs)).toEqual({ fromMs: 17 * DAY_MS, toMs: 45 * DAY_MS });
    expect(windowOf('all', 0, nowMs)).toBeNull();
  });

  it('have a handful of days as labels', () => {
    for (const days of [6, 28, 84, 182, 700, 3000]) {
      const ticks = dayTicks({ fromMs: 20_000 * DAY_MS, toMs: (20_000 + days) * DAY_MS });
      expect(ticks.length).toBeGreaterThanOrEqual(4);
      expect(ticks.length).toBeLessThanOrEqual(10);
    }
  });
});
