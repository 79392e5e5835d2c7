/**
 * How often does an alert come although nothing has changed?
 *
 * Run levels of an unchanged machine are taken as Gaussian in dB with a lag-1 correlation. Two things make alerts more
 * frequent than a table of the normal distribution says, and both are counted: runs resemble the run before, so
 * persistence buys less; and the baseline is itself a median and a MAD of a few runs, so the limit lies too low for
 * every later run at once. Runs are put in three classes (above the raising limit, between, below the clearing limit);
 * the class of the next run is drawn given this one (bivariate normal), which makes the alert a Markov chain whose
 * expected number of raisings is summed run by run. Taking the classes as Markov is the approximation; the tests hold
 * it against simulated runs.
 */
import { ALERT_RULE, type AlertRule, expectedRaisings } from './alarm-chain.ts';
import { normalQuantile } from './normal.ts';
import { gaussian, uniform } from './random.ts';
import { remember } from './remember.ts';
import { median, robustSd } from './robust.ts';

/** The clearing limit lies halfway (in dB) between the baseline and the raising limit. */
export const CLEAR_SHARE = 0.5;

/** Likeness of consecutive runs that is assumed: a dozen runs cannot tell it. Common practice, no source. */
const RUN_LAG1 = 0.3;

/** Enough that the mean over baselines, whose unlucky few weigh most, repeats to a few per cent. */
const BASELINES_DRAWN = 10_000;

/** Grid of raising limits and of baseline medians, in true spreads, on which the chain is worked out. */
const RAISE_FROM = -1;
const RAISE_TO = 7;
const MEDIAN_REACH = 2;
const GRID_STEP = 0.5;

export interface ChangeAlertDesign {
  /** Raising limit above the baseline's median, in its own spread. */
  limitSd: number;
  baselineRuns: number;
  runsPerYear: number;
  rule?: AlertRule;
  lag1?: number;
}

/** Expected false alarms a year of one watched value whose limit stands on a baseline of few runs. */
export function falseAlarmsPerYear(design: ChangeAlertDesign): number {
  const { limitSd, baselineRuns, runsPerYear, rule = ALERT_RULE, lag1 = RUN_LAG1 } = design;
  return meanOverBaselines(
    baselines({ runs: baselineRuns, lag1 }),
    raisingsTable({ runsPerYear, rule, lag1 }),
    limitSd,
  );
}

/**
 * Expected false alarms a year of one watched finding.
 *
 * @param chancePerRun chance that a healthy run shows it, as the finding itself states it
 * @param lag1 how alike consecutive runs are: 0 when each run's chance is its own
 */
export function falseFindingsPerYear(
  chancePerRun: number,
  runsPerYear: number,
  rule: AlertRule = ALERT_RULE,
  lag1 = 0,
): number {
  if (chancePerRun <= 0) return 0;
  if (chancePerRun >= 1) return 1;
  const limit = normalQuantile(1 - chancePerRun);
  return expectedRaisings(limit, limit, runsPerYear, rule, lag1);
}

/**
 * The limit, in spreads of the baseline, that keeps false alarms at the wanted rate.
 * @param wantedPerYear more than 0, e.g. 0.1: once in ten years for each watched value
 */
export function limitForRate(wantedPerYear: number, design: Omit<ChangeAlertDesign, 'limitSd'>): number {
  const { baselineRuns, runsPerYear, rule = ALERT_RULE, lag1 = RUN_LAG1 } = design;
  return findLimit({ wantedPerYear, baselineRuns, runsPerYear, rule, lag1 });
}

const findLimit = remember(
  (wish: {
    wantedPerYear: number;
    baselineRuns: number;
    runsPerYear: number;
    rule: AlertRule;
    lag1: number;
  }) => {
    let low = 1;
    let high = 40;
    while (high - low > 0.02) {
      const limitSd = (low + high) / 2;
      if (falseAlarmsPerYear({ ...wish, limitSd }) > wish.wantedPerYear) low = limitSd;
      else high = limitSd;
    }
    return high;
  },
  200,
);

interface DrawnBaseline {
  median: number;
  sd: number;
}

/** What a baseline of so few runs may look like when the truth is median 0 and spread 1. */
const baselines = remember(({ runs, lag1 }: { runs: number; lag1: number }): DrawnBaseline[] => {
  const next = gaussian(uniform(runs));
  const innovation = Math.sqrt(1 - lag1 * lag1);
  return Array.from({ length: BASELINES_DRAWN }, () => {
    let value = next();
    const levels = Array.from({ length: runs }, () => {
      value = lag1 * value + innovation * next();
      return value;
    });
    return { median: median(levels), sd: robustSd(levels) };
  });
}, 8);

/** Expected raisings by baseline median (rows) and raising limit (columns), both in true spreads. */
const raisingsTable = remember(
  ({ runsPerYear, rule, lag1 }: { runsPerYear: number; rule: AlertRule; lag1: number }): number[][] => {
    const rows: number[][] = [];
    for (let middle = -MEDIAN_REACH; middle <= MEDIAN_REACH; middle += GRID_STEP) {
      const row: number[] = [];
      for (let raise = RAISE_FROM; raise <= RAISE_TO; raise += GRID_STEP) {
        const clear = Math.min(raise, middle + CLEAR_SHARE * (raise - middle));
        row.push(Math.max(1e-300, expectedRaisings(raise, clear, runsPerYear, rule, lag1)));
      }
      rows.push(row);
    }
    return rows;
  },
  32,
);

function meanOverBaselines(drawn: readonly DrawnBaseline[], table: number[][], limitSd: number): number {
  let sum = 0;
  for (const { median: middle, sd } of drawn) sum += raisings(table, middle, middle + limitSd * sd);
  return sum / drawn.length;
}

/** The table between its grid points: by the logarithm along the limit, on which the count falls like a tail. */
function raisings(table: number[][], middle: number, raise: number): number {
  if (raise >= RAISE_TO) return 0;
  const [row, rowRest] = cell((middle + MEDIAN_REACH) / GRID_STEP, table.length);
  const [column, rest] = cell((raise - RAISE_FROM) / GRID_STEP, table[0]!.length);
  const along = (line: number[]) => line[column]! ** (1 - rest) * line[column + 1]! ** rest;
  return (1 - rowRest) * along(table[row]!) + rowRest * along(table[row + 1]!);
}

function cell(place: number, size: number): [number, number] {
  const inside = Math.min(Math.max(place, 0), size - 1.000001);
  return [Math.floor(inside), inside - Math.floor(inside)];
}
