import { type Baseline, baseline, type NoBaseline } from './baseline.ts';
import { type Followed, follow } from './follow.ts';
import type { ChangeCriterion } from './limits.ts';
import type { PlacedLevel } from './matched.ts';
import { comparePeers, type PeerComparison } from './peers.ts';
import { levelDb, median } from './robust.ts';
import { runSummary } from './run-summary.ts';
import { trendIndex } from './trend-index.ts';

/** Levels of several places over time, as logged elsewhere: one row an instant, one column a place and value. */
export interface LevelTable {
  /** Unix milliseconds, rising. */
  timeMs: readonly number[];
  /** One per row; null where there is no value. All columns are as long as `timeMs`. */
  columns: readonly { name: string; values: readonly (number | null)[] }[];
  /** The condition of each row, where conditions differ; rows without one are left out. */
  bins: readonly (string | null)[] | null;
}

export interface TableQuestion {
  /** So many rows in a row, of one condition, make a run. */
  rowsPerRun: number;
  criterion: ChangeCriterion;
  zoneBoundaries: { name: string; value: number }[];
  /** False alarms a year that are put up with, each column. */
  falseAlarmsPerYear: number;
  /** Level to foresee, in the column's unit; null: twice the baseline. */
  limit: number | null;
}

export interface FollowedColumn extends Followed {
  name: string;
  /** `ratio`: to the own baseline, over several conditions. */
  basis: 'level' | 'ratio';
  limit: number | null;
  /** Runs in which too many rows had no value. */
  leftOut: number;
}

export interface FollowedTable {
  columns: FollowedColumn[];
  /** Columns of one value at three places or more: which one changed when all saw the same? At the last run. */
  peers: (PeerComparison & { value: string })[];
}

const YEAR_MS = 365.25 * 86_400_000;
/**
 * Twice a day, the most that the station measures runs at. A test that lives for hours is held to the same limits: with
 * its own rate a year would have so many runs that only a level beyond all scatter could raise an alert.
 */
const MOST_RUNS_PER_YEAR = 730;
const USUAL_LIMIT_RATIO = 2;
const LEAST_PEERS = 3;
/** Runs that say where a place stands now. */
const NEWEST = 3;

/** Follows every column as the station follows its locations: own baseline, alerts, slope, forecast; then peers. */
export function followTable(table: LevelTable, question: TableQuestion): FollowedTable {
  const columns = table.columns.map((column) => followColumn(table, column, question));
  const values = [...new Set(columns.map(({ name }) => quantityOf(name)))];
  const peers = values.flatMap((value) => {
    const group = columns.filter(({ name }) => quantityOf(name) === value);
    const known = group.flatMap((column) => {
      const change = changeOf(column);
      return change === null ? [] : [change];
    });
    return known.length < LEAST_PEERS ? [] : [{ value, ...comparePeers(known) }];
  });
  return { columns, peers };
}

/** "hub_rms_g" is the value "rms_g" at the place "hub": what stands before the first underscore names the place. */
function quantityOf(name: string): string {
  const at = name.indexOf('_');
  return at < 0 ? '' : name.slice(at + 1);
}

function followColumn(
  table: LevelTable,
  { name, values }: LevelTable['columns'][number],
  question: TableQuestion,
): FollowedColumn {
  const { levels, leftOut } = runsOf(table, values, question.rowsPerRun);
  const bins = new Set(levels.map(({ bin }) => bin));
  const bin = bins.size === 1 ? [...bins][0]! : null;
  const spanMs = (levels.at(-1)?.timeMs ?? 0) - (levels[0]?.timeMs ?? 0);
  const known = baseline(bin === null ? trendIndex(levels).points : levels);
  // A level in the column's unit means nothing beside ratios to several baselines.
  const limit = bin !== null && question.limit !== null ? question.limit : usualLimit(known);
  const followed = follow({
    levels,
    stretch: 0,
    bin,
    criterion: question.criterion,
    zoneBoundaries: question.zoneBoundaries,
    wish: {
      falseAlarmsPerYear: question.falseAlarmsPerYear,
      runsPerYear: spanMs > 0 ? Math.min(MOST_RUNS_PER_YEAR, ((levels.length - 1) * YEAR_MS) / spanMs) : 52,
    },
    limit,
    fromMs: Number.NEGATIVE_INFINITY,
    toMs: Number.POSITIVE_INFINITY,
  });
  return { name, basis: bin === null ? 'ratio' : 'level', limit, leftOut, ...followed };
}

function usualLimit(known: Baseline | NoBaseline): number | null {
  return known.known ? USUAL_LIMIT_RATIO * known.median : null;
}

function runsOf(
  { timeMs, bins }: LevelTable,
  values: readonly (number | null)[],
  rowsPerRun: number,
): { levels: PlacedLevel[]; leftOut: number } {
  const levels: PlacedLevel[] = [];
  let leftOut = 0;
  let from = 0;
  while (from < timeMs.length) {
    const bin = bins === null ? 'any' : bins[from]!;
    let to = from + 1;
    while (to < timeMs.length && to - from < rowsPerRun && (bins === null || bins[to] === bin)) to++;
    if (bin !== null) {
      const readings = values.slice(from, to).map((value, k) => ({
        timeMs: timeMs[from + k]!,
        value,
        // A level of nought has no decibels: a stopped logger writes it, no running machine does.
        flagged: value === null || value <= 0,
      }));
      const run = runSummary(readings, {
        leastUsed: Math.min(rowsPerRun, 5, to - from),
        mostLeftOutShare: 0.3,
      });
      if (run.refused === null && run.median !== null)
        levels.push({ timeMs: run.toMs, value: run.median, bin, stretch: 0 });
      else leftOut++;
    }
    from = to;
  }
  return { levels, leftOut };
}

function changeOf({ name, points, watched }: FollowedColumn) {
  const { baseline, notRunning } = watched;
  if (!baseline.known) return null;
  const left = new Set(notRunning.map(({ timeMs }) => timeMs));
  const newest = points.filter(({ timeMs }) => !left.has(timeMs)).slice(-NEWEST);
  const level = median(newest.map(({ value }) => value));
  return { id: name, changeDb: levelDb(level, baseline.median), spreadDb: baseline.spreadDb };
}
