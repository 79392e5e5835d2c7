import { type ChangePoint, changePoint } from './change-point.ts';
import { type Forecast, forecast } from './forecast.ts';
import type { AlertWish, ChangeCriterion } from './limits.ts';
import { type TrendTest, trendTest } from './mann-kendall.ts';
import type { PlacedLevel } from './matched.ts';
import { uniform } from './random.ts';
import { median } from './robust.ts';
import { slopeInterval, theilSen } from './theil-sen.ts';
import { type TrendIndex, trendIndex } from './trend-index.ts';
import { type Watched, watchLevels } from './watch.ts';

/** Everything said of one value at one location over weeks, from its accepted runs. */
export interface FollowQuestion {
  /** Accepted bins of runs, any order; the bins of one run share its `timeMs`. */
  levels: PlacedLevel[];
  /** Number of the stretch that lasts now: only its runs are followed, however few. */
  stretch: number;
  /** One condition, in the value's unit; null: all of them, as a ratio to each one's own baseline. */
  bin: string | null;
  criterion: ChangeCriterion;
  /** In the value's unit; watched in one condition only, because a ratio has no zones. */
  zoneBoundaries: { name: string; value: number }[];
  wish: AlertWish;
  /** Level to foresee, in the value's unit (or as a ratio, over all conditions); null asks for no forecast. */
  limit: number | null;
  /** Only these runs make slope, test and change point. */
  fromMs: number;
  toMs: number;
}

export interface FollowedLine {
  fromMs: number;
  toMs: number;
  /** Change per week, and the ends of its 95 % interval. */
  perWeek: number;
  lowPerWeek: number;
  highPerWeek: number;
  /** The line at its two ends. */
  fromValue: number;
  toValue: number;
}

export interface Followed {
  points: { timeMs: number; value: number; stretch: number; bins: string[] }[];
  watched: Watched;
  /** Conditions that need more runs before they count. */
  waiting: TrendIndex['waiting'];
  line: FollowedLine | null;
  test: TrendTest | null;
  change: (ChangePoint & { timeMs: number }) | null;
  forecast: Forecast | null;
}

const WEEK_MS = 7 * 86_400_000;
/** Fewest runs for a slope, and for a test of it: below, an interval says nothing. */
const LEAST_RUNS = 5;
/** The work grows with the square of the runs: more of them are first drawn together by medians of neighbours. */
const MOST_RUNS = 120;
const RESAMPLES = 200;

/**
 * Follows the stretch that lasts now: an index over all conditions, or the runs of one of them. Earlier stretches are shown,
 * each against its own baseline, and enter nothing else.
 */
export function follow(question: FollowQuestion): Followed {
  const { levels, bin, stretch } = question;
  const stretches = [...new Set(levels.map((level) => level.stretch))].sort((a, b) => a - b);
  const points = stretches.flatMap((of) =>
    pointsOf(
      levels.filter((level) => level.stretch === of),
      bin,
    ).points.map((point) => ({ ...point, stretch: of })),
  );
  const current = pointsOf(
    levels.filter((level) => level.stretch === stretch),
    bin,
  );
  const { wish, criterion, zoneBoundaries } = question;
  const watched = watchLevels(current.points, {
    criterion: bin === null ? { kind: 'own-spread' } : criterion,
    zoneBoundaries: bin === null ? [] : zoneBoundaries,
    wish,
  });
  const left = new Set(watched.notRunning.map(({ timeMs }) => timeMs));
  const running = current.points.filter(({ timeMs }) => !left.has(timeMs));
  const shown = drawnTogether(
    running.filter(({ timeMs }) => timeMs >= question.fromMs && timeMs <= question.toMs),
  );
  const known = watched.baseline.known ? watched.baseline : null;
  return {
    points,
    watched,
    waiting: current.waiting,
    ...shape(shown),
    forecast:
      question.limit === null || known === null
        ? null
        : forecast({ levels: running, limit: question.limit, baselineMedian: known.median }),
  };
}

interface Point {
  timeMs: number;
  value: number;
  bins: string[];
}

function pointsOf(
  levels: readonly PlacedLevel[],
  bin: string | null,
): { points: Point[]; waiting: TrendIndex['waiting'] } {
  if (bin === null) {
    const { points, waiting } = trendIndex(levels);
    return { points, waiting };
  }
  const points = levels
    .filter((level) => level.bin === bin)
    .map(({ timeMs, value }) => ({ timeMs, value, bins: [bin] }))
    .sort((a, b) => a.timeMs - b.timeMs);
  return { points, waiting: [] };
}

function shape(points: readonly Point[]): Pick<Followed, 'line' | 'test' | 'change'> {
  const times = points.map(({ timeMs }) => timeMs);
  const values = points.map(({ value }) => value);
  if (points.length < LEAST_RUNS || new Set(times).size < 2) return { line: null, test: null, change: null };
  const { slope, intercept } = theilSen(times, values);
  const { low, high } = slopeInterval(times, values, {
    resamples: RESAMPLES,
    next: uniform(points.length),
  });
  const [fromMs, toMs] = [times[0]!, times.at(-1)!];
  const found = changePoint(values, { resamples: 499 });
  return {
    line: {
      fromMs,
      toMs,
      perWeek: slope * WEEK_MS,
      lowPerWeek: low * WEEK_MS,
      highPerWeek: high * WEEK_MS,
      fromValue: intercept + slope * fromMs,
      toValue: intercept + slope * toMs,
    },
    test: trendTest(times, values),
    change: found === null ? null : { ...found, timeMs: times[found.index]! },
  };
}

/** Medians of as many neighbours as it takes to stay below `MOST_RUNS`. */
function drawnTogether(points: readonly Point[]): Point[] {
  const size = Math.ceil(points.length / MOST_RUNS);
  if (size <= 1) return [...points];
  const groups = Array.from({ length: Math.ceil(points.length / size) }, (_, i) =>
    points.slice(i * size, (i + 1) * size),
  );
  return groups.map((group) => ({
    timeMs: median(group.map(({ timeMs }) => timeMs)),
    value: median(group.map(({ value }) => value)),
    bins: [...new Set(group.flatMap(({ bins }) => bins))],
  }));
}
