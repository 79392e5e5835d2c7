import type { Trend } from '../../contract/model.ts';
import { clock, significant } from '../format.ts';

export interface Point {
  x: number;
  y: number | null;
}

export interface TrendSeries {
  value: Point[];
  minimum: Point[];
  maximum: Point[];
  /** Middles of slots in which readings were flagged and left out. */
  flaggedMs: number[];
  gapCount: number;
  /** Where a new stretch began: levels on both sides need not match. */
  changes: StretchChange[];
}

export interface StretchChange {
  atMs: number;
  /** What changed, in a few words. */
  what: string;
}

/** Seconds [fromMs, toMs) cut into `points` slots: aligned, so that slots do not shift between two reads. */
export interface TrendWindow {
  fromMs: number;
  toMs: number;
  points: number;
}

export function lastHour(nowMs: number, slotMs = 10_000): TrendWindow {
  const toMs = Math.ceil(nowMs / slotMs) * slotMs;
  return { fromMs: toMs - 3_600_000, toMs, points: 3_600_000 / slotMs };
}

/**
 * Columns of a trend as chart points. The server leaves out slots without a reading: a point without a value
 * goes between two that are more than one and a half slots apart or come from different sensors, so that the
 * line breaks instead of bridging.
 */
export function trendSeries(trend: Trend, window: TrendWindow): TrendSeries {
  const slotMs = (window.toMs - window.fromMs) / window.points;
  const changes = changesOf(trend.stretches ?? []);
  const series: TrendSeries = { value: [], minimum: [], maximum: [], flaggedMs: [], gapCount: 0, changes };
  let before: number | null = null;
  trend.timeMs.forEach((x, index) => {
    if (before !== null) {
      const from = before;
      const isGap = x - from > 1.5 * slotMs;
      const isChange = changes.some(({ atMs }) => atMs > from && atMs < x);
      if (isGap) series.gapCount += 1;
      if (isGap || isChange) {
        const hole = { x: (from + x) / 2, y: null };
        for (const column of [series.value, series.minimum, series.maximum]) column.push(hole);
      }
    }
    before = x;
    series.value.push({ x, y: trend.value[index] ?? null });
    series.minimum.push({ x, y: trend.minimum[index] ?? null });
    series.maximum.push({ x, y: trend.maximum[index] ?? null });
    if ((trend.flagged[index] ?? 0) > 0) series.flaggedMs.push(x);
  });
  return series;
}

function changesOf(stretches: NonNullable<Trend['stretches']>): StretchChange[] {
  return stretches.slice(1).map((stretch, index) => {
    const before = stretches[index]!;
    const isSame = before.nodeId === stretch.nodeId && before.sensor === stretch.sensor;
    const what = !isSame
      ? 'the sensor was changed'
      : stretch.beganBy === 'turned'
        ? 'the mount moved'
        : 'the mount was set anew';
    return { atMs: stretch.fromMs, what };
  });
}

const SHORTEST_SHOWN_MS = 5 * 60_000;

/** Where the picture begins: a short history fills it instead of hiding at its right edge. */
export function shownFromMs(trend: Trend, { fromMs, toMs }: TrendWindow): number {
  const first = trend.timeMs[0] ?? fromMs;
  return Math.max(fromMs, Math.min(first, toMs - SHORTEST_SHOWN_MS));
}

/** Whole minutes between time labels, so that at most seven stand along the span. */
export function minutesBetweenLabels(spanMs: number): number {
  return [1, 2, 5, 10].find((minutes) => spanMs / (minutes * 60_000) <= 7) ?? 20;
}

/** The trend in one sentence, for people who cannot see the picture. */
export function trendSummary(trend: Trend, series: TrendSeries, unit: string): string {
  const valid = trend.value.filter((value): value is number => value !== null);
  if (valid.length === 0) return 'No valid reading in the last hour.';
  const minima = trend.minimum.filter((value): value is number => value !== null);
  const maxima = trend.maximum.filter((value): value is number => value !== null);
  const [first, last] = [trend.timeMs[0]!, trend.timeMs[trend.timeMs.length - 1]!];
  const newest = valid[valid.length - 1]!;
  const withUnit = (value: number) => `${significant(value)}${unit === '' ? '' : ` ${unit}`}`;
  const sentences = [
    `From ${clock(first)} to ${clock(last)}: lowest ${withUnit(Math.min(...minima, ...valid))}, highest ` +
      `${withUnit(Math.max(...maxima, ...valid))}, newest ${withUnit(newest)}.`,
  ];
  if (series.gapCount > 0)
    sentences.push(`${series.gapCount} ${series.gapCount === 1 ? 'gap' : 'gaps'} without data.`);
  const flagged = trend.flagged.reduce((sum, count) => sum + count, 0);
  if (flagged > 0)
    sentences.push(`${flagged} flagged ${flagged === 1 ? 'reading' : 'readings'} left out of the line.`);
  for (const { atMs, what } of series.changes)
    sentences.push(`At ${clock(atMs)} ${what}: levels before and after may differ.`);
  return sentences.join(' ');
}
