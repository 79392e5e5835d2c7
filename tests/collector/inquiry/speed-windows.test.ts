import { describe, expect, it } from 'vitest';
import { speedWindows } from '../../../collector/inquiry/speed-windows.ts';

const series = (seconds: number, hz: (s: number) => number, stepS = 1) => {
  const atMs = Array.from({ length: Math.floor(seconds / stepS) + 1 }, (_, k) => 1000 * k * stepS);
  return { atMs, hz: atMs.map((at) => hz(at / 1000)) };
};
const span = (toS: number) => ({ fromMs: 0, toMs: 1000 * toS });

describe('the part of a run that tells most', () => {
  it('is where the speeds vary most, 90 s at most', () => {
    const speed = series(600, (s) =>
      s >= 300 && s < 390 ? 30 + 10 * Math.sin(s / 5) : 30 + 0.1 * Math.sin(s),
    );
    const { windows, used } = speedWindows([speed], span(600));
    expect(used).toEqual([0]);
    expect(windows[0]!.toMs - windows[0]!.fromMs).toBe(90_000);
    expect(Math.abs(windows[0]!.fromMs - 300_000)).toBeLessThan(10_000);
    for (const [i, one] of windows.entries())
      for (const other of windows.slice(i + 1))
        expect(one.toMs <= other.fromMs || one.fromMs >= other.toMs).toBe(true);
  });

  it('is where speeds vary against each other, more than where they vary together', () => {
    const engine = series(400, (s) => 30 + 8 * Math.sin(s / 7));
    const output = series(400, (s) =>
      s < 200 ? 0.5 * (30 + 8 * Math.sin(s / 7)) : 15 + 4 * Math.sin(s / 11),
    );
    expect(speedWindows([engine, output], span(400)).windows[0]!.fromMs).toBeGreaterThanOrEqual(190_000);
  });

  it('holds no second in which something stands or is not told', () => {
    const engine = series(200, () => 30);
    const wheel = series(200, (s) => (s > 60 && s < 100 ? 0 : 6 + Math.sin(s)));
    const gap = { atMs: wheel.atMs.filter((at) => at < 150_000 || at > 160_000), hz: [] as number[] };
    gap.hz = gap.atMs.map((at) => wheel.hz[wheel.atMs.indexOf(at)]!);
    const { windows } = speedWindows([engine, gap], span(200));
    expect(windows.length).toBeGreaterThan(1);
    for (const { fromMs, toMs } of windows) {
      expect(toMs <= 62_000 || fromMs >= 99_000).toBe(true);
      expect(toMs <= 151_000 || fromMs >= 159_000).toBe(true);
      expect(toMs - fromMs).toBeGreaterThanOrEqual(10_000);
    }
  });

  it('leaves out what stood still and what was told now and then', () => {
    const engine = series(100, (s) => 30 + s / 10);
    const parked = series(100, () => 0);
    const seldom = series(20, () => 12);
    const { used, standing, windows } = speedWindows([engine, parked, seldom], span(100));
    expect(used).toEqual([0]);
    expect(standing).toEqual([1]);
    expect(windows[0]!.toMs - windows[0]!.fromMs).toBe(90_000);
  });

  it('is nowhere without speeds or in too short a span', () => {
    expect(speedWindows([], span(100))).toEqual({ used: [], standing: [], windows: [] });
    expect(speedWindows([series(8, () => 30)], span(8)).windows).toEqual([]);
    expect(speedWindows([{ atMs: [5], hz: [30] }], span(60)).windows).toEqual([]);
  });
});
