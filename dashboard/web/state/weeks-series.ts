import type { LocationTrend } from '../../contract/weeks.ts';

const DAY_MS = 86_400_000;

/** How far back to look; null: all there is. */
export const SPANS = [
  { key: '4', label: '4 weeks', weeks: 4 },
  { key: '12', label: '12 weeks', weeks: 12 },
  { key: '26', label: '26 weeks', weeks: 26 },
  { key: 'all', label: 'All', weeks: null },
] as const;
export type SpanKey = (typeof SPANS)[number]['key'];

export interface Window {
  fromMs: number;
  toMs: number;
}

/** The span that ends `back` spans before now; whole days, so that the same question is asked again. */
export function windowOf(span: SpanKey, back: number, nowMs: number): Window | null {
  const { weeks } = SPANS.find(({ key }) => key === span)!;
  if (weeks === null) return null;
  const lengthMs = weeks * 7 * DAY_MS;
  const endMs = Math.ceil(nowMs / DAY_MS) * DAY_MS - back * lengthMs;
  return { fromMs: endMs - lengthMs, toMs: endMs };
}

export interface SeriesPoint {
  x: number;
  y: number | null;
}

/** Runs apart by more than this many usual distances have a gap between them: no line is drawn across. */
const GAP_RATIO = 4;
const LEAST_GAP_MS = 8 * DAY_MS;

/** Points of one trend with holes (null) where nothing was measured for long, and between stretches. */
export function weeksSeries(points: LocationTrend['points']): SeriesPoint[] {
  const gapMs = usualGapMs(points);
  const found: SeriesPoint[] = [];
  points.forEach((point, index) => {
    const before = points[index - 1];
    const isApart =
      before !== undefined && (before.stretch !== point.stretch || point.timeMs - before.timeMs > gapMs);
    if (isApart) found.push({ x: (before.timeMs + point.timeMs) / 2, y: null });
    found.push({ x: point.timeMs, y: point.value });
  });
  return found;
}

/** Spans without a run, as the picture leaves them open. */
export function gapsOf(points: LocationTrend['points']): Window[] {
  const gapMs = usualGapMs(points);
  return points.slice(1).flatMap((point, index) => {
    const before = points[index]!;
    return point.timeMs - before.timeMs > gapMs ? [{ fromMs: before.timeMs, toMs: point.timeMs }] : [];
  });
}

function usualGapMs(points: LocationTrend['points']): number {
  const distances = points
    .slice(1)
    .map((point, index) => point.timeMs - points[index]!.timeMs)
    .sort((a, b) => a - b);
  const middle = distances[Math.floor(distances.length / 2)] ?? 0;
  return Math.max(LEAST_GAP_MS, GAP_RATIO * middle);
}

/** First day of each month, or every so many days, as labels of an axis. */
export function dayTicks({ fromMs, toMs }: Window): number[] {
  const days = (toMs - fromMs) / DAY_MS;
  const step = days <= 10 ? 1 : days <= 35 ? 7 : days <= 100 ? 14 : days <= 200 ? 28 : days <= 800 ? 91 : 365;
  const first = new Date(fromMs);
  const ticks: number[] = [];
  // Local midnights, whatever clocks were changed meanwhile.
  for (let day = 0; ; day += step) {
    const at = new Date(first.getFullYear(), first.getMonth(), first.getDate() + day).getTime();
    if (at > toMs) return ticks;
    if (at >= fromMs) ticks.push(at);
  }
}
