import { describe, expect, it } from 'vitest';
import {
  bandChanges,
  bandPoints,
  changeText,
  fromLocalTime,
  localTime,
  newestFromMs,
  type Spectrum,
  sameMount,
} from '../../../dashboard/web/state/then-now.ts';

const EDGES = [100, 106, 112, 119, 126];
const spectrum = (levels: number[], extra: Partial<Spectrum> = {}): Spectrum => ({
  fromMs: 0,
  toMs: 60_000,
  seconds: 60,
  mount: { nodeId: 'c1a0000000000000', sensor: 0, sinceMs: 5 },
  edgesHz: EDGES,
  axes: [
    { axis: 'x', rmsMPerS2: levels },
    { axis: 'y', rmsMPerS2: levels.map((value) => value / 2) },
  ],
  ...extra,
});

describe('two spectra of a location', () => {
  it('name the bands that changed by 3 dB or more, greatest first, and leave out what does not matter', () => {
    const then = spectrum([1, 0.1, 0.5, 0.001]);
    const now = spectrum([1.2, 0.4, 0.25, 0.004]);
    const changes = bandChanges(then, now, 'x');
    expect(changes.map(({ bandHz }) => bandHz[0])).toEqual([106, 112]);
    // 4 and 1/2 times: +12.04 and -6.02 dB.
    expect(changes[0]!.changeDb).toBeCloseTo(12.04, 2);
    expect(changes[1]!.changeDb).toBeCloseTo(-6.02, 2);
    expect(changeText(changes[0]!)).toBe('106 to 112 Hz: 0.100 then, 0.400 m/s² RMS now, +12.0 dB');
    expect(changeText(changes[1]!)).toContain('\u22126.0 dB');
    expect(bandChanges(then, now, 'x', 1)).toHaveLength(1);
    expect(bandChanges(then, then, 'x')).toEqual([]);
    expect(bandChanges(then, now, 'z')).toEqual([]);
  });

  it('count a line out of nothing as one above the floor, and compare bands of the same place alone', () => {
    const then = spectrum([0, 1, 1, 1]);
    const now = spectrum([1, 1, 1], { edgesHz: EDGES.slice(0, 4) });
    expect(bandChanges(then, now, 'x')).toMatchObject([{ bandHz: [100, 106], changeDb: 40 }]);
    const shifted = spectrum([9, 9, 9], { edgesHz: EDGES.slice(1) });
    expect(bandChanges(shifted, now, 'x').map(({ bandHz }) => bandHz[0])).toEqual([106, 112]);
  });

  it('are drawn at the middle of each band; a band of nothing is left open', () => {
    const points = bandPoints(spectrum([4, 0, 1, 1]), 'y');
    expect(points[0]!.x).toBeCloseTo(Math.sqrt(100 * 106), 9);
    expect(points.map(({ y }) => y)).toEqual([2, null, 0.5, 0.5]);
    expect(bandPoints(spectrum([1]), 'z')).toEqual([]);
  });

  it('tell whether the same sensor sat there in the same way', () => {
    const one = spectrum([1]);
    expect(sameMount(one, spectrum([2]))).toBe(true);
    expect(sameMount(one, spectrum([1], { mount: { ...one.mount, sinceMs: 6 } }))).toBe(false);
  });
});

describe('moments', () => {
  it('go through the input of a form and back, to the minute', () => {
    const atMs = new Date(2026, 1, 3, 4, 5).getTime();
    expect(localTime(atMs)).toBe('2026-02-03T04:05');
    expect(fromLocalTime(localTime(atMs))).toBe(atMs);
    expect(fromLocalTime('')).toBeNull();
  });

  it('begin so that the last minute is over', () => {
    expect(newestFromMs(600_000 + 59_999, 10)).toBe(0);
    expect(newestFromMs(600_000, 1)).toBe(540_000);
  });
});
