import { describe, expect, it } from 'vitest';
import { type FollowQuestion, follow, theilSen } from '../../../collector/trend/index.ts';

const DAY_MS = 86_400_000;
const QUESTION: FollowQuestion = {
  levels: [],
  stretch: 0,
  bin: null,
  criterion: { kind: 'own-spread' },
  zoneBoundaries: [],
  wish: { falseAlarmsPerYear: 0.1, runsPerYear: 156 },
  limit: null,
  fromMs: 0,
  toMs: Number.MAX_SAFE_INTEGER,
};
const scatter = (k: number) => 1 + 0.06 * (((k * 0.618034) % 1) - 0.5);
const run = (k: number, value: number, bin = 'slow', stretch = 0) => ({
  timeMs: (k + 1) * DAY_MS,
  value: value * scatter(k),
  bin,
  stretch,
});
const runs = (count: number, level: (k: number) => number) =>
  Array.from({ length: count }, (_, k) => run(k, level(k)));

describe('everything said of a location', () => {
  it('is nothing but honest of no runs', () => {
    const followed = follow(QUESTION);
    expect(followed).toMatchObject({ points: [], line: null, test: null, change: null, forecast: null });
    expect(followed.watched.baseline).toEqual({ known: false, runsMissing: 8, reason: 'too-few-runs' });
  });

  it('is of the stretch that lasts now, earlier ones being shown only', () => {
    const levels = [...runs(20, () => 5), ...Array.from({ length: 10 }, (_, k) => run(k + 30, 1, 'slow', 1))];
    const followed = follow({ ...QUESTION, levels, stretch: 1, bin: 'slow' });
    expect(followed.points).toHaveLength(30);
    expect(followed.watched.baseline).toMatchObject({ known: true, runs: 10 });
    expect(followed.line!.fromMs).toBe(31 * DAY_MS);
    const fresh = follow({ ...QUESTION, levels, stretch: 2 });
    expect(fresh.watched.baseline).toMatchObject({ known: false, runsMissing: 8 });
    expect(fresh.line).toBeNull();
  });

  it('gives the slope of the span asked for, per week, as Theil and Sen have it', () => {
    const levels = runs(60, (k) => 1 + 0.01 * k);
    const [fromMs, toMs] = [20 * DAY_MS, 50 * DAY_MS];
    const { line } = follow({ ...QUESTION, levels, bin: 'slow', fromMs, toMs });
    const inside = levels.filter(({ timeMs }) => timeMs >= fromMs && timeMs <= toMs);
    const plain = theilSen(
      inside.map(({ timeMs }) => timeMs),
      inside.map(({ value }) => value),
    );
    expect(line!.perWeek).toBeCloseTo(plain.slope * 7 * DAY_MS, 10);
    expect(line!.lowPerWeek).toBeLessThan(0.07);
    expect(line!.highPerWeek).toBeGreaterThan(0.07);
  });

  it('leaves out of slope and forecast the runs in which the machine stood', () => {
    const levels = runs(40, (k) => (k % 10 === 9 ? 0.01 : 1));
    const { watched, line } = follow({ ...QUESTION, levels, bin: 'slow' });
    expect(watched.notRunning).toHaveLength(4);
    expect(Math.abs(line!.perWeek)).toBeLessThan(0.02);
  });

  it('stays quick with years of days, and keeps the slope', () => {
    const levels = runs(1500, (k) => 1 + 0.001 * k);
    const { line } = follow({ ...QUESTION, levels, bin: 'slow' });
    expect(line!.perWeek).toBeCloseTo(0.007, 3);
  });
});
