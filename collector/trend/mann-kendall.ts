import { normalUpperTail } from './normal.ts';
import { lag1, preWhiten } from './robust.ts';
import { repeats, theilSen } from './theil-sen.ts';

export interface Kendall {
  /** Kendall's tau-b: -1 (always falling) to 1 (always rising). Null when x or y never changes. */
  tau: number | null;
  /** Two-sided, for independent scatter. 1 when tau is null. */
  pValue: number;
}

/**
 * Kendall's tau-b with its significance, as scipy.stats.kendalltau: exact without ties up to 33 points (Kendall 1970),
 * else the normal approximation with the correction for ties. With x = time it is the test of Mann (1945) and Kendall.
 *
 * @throws RangeError when lengths differ
 */
export function kendall(x: readonly number[], y: readonly number[]): Kendall {
  const n = x.length;
  if (n !== y.length) throw new RangeError(`tau needs as many x as y, got ${n} and ${y.length}`);
  let score = 0;
  let discordant = 0;
  for (let i = 1; i < n; i++) {
    for (let j = 0; j < i; j++) {
      const sign = Math.sign(x[i]! - x[j]!) * Math.sign(y[i]! - y[j]!);
      score += sign;
      if (sign < 0) discordant++;
    }
  }
  const pairs = (n * (n - 1)) / 2;
  const tiesX = repeats(x);
  const tiesY = repeats(y);
  const tiedPairs = (ties: number[]) => ties.reduce((sum, k) => sum + (k * (k - 1)) / 2, 0);
  const [tiedX, tiedY] = [tiedPairs(tiesX), tiedPairs(tiesY)];
  if (tiedX === pairs || tiedY === pairs) return { tau: null, pValue: 1 };
  const tau = score / Math.sqrt(pairs - tiedX) / Math.sqrt(pairs - tiedY);
  const untied = tiedX === 0 && tiedY === 0;
  const fewest = Math.min(discordant, pairs - discordant);
  if (untied && n < 171 && (n <= 33 || fewest <= 1)) return { tau, pValue: exactPValue(n, fewest) };
  const triple = (ties: number[]) => ties.reduce((sum, k) => sum + k * (k - 1) * (k - 2), 0);
  const spread = (ties: number[]) => ties.reduce((sum, k) => sum + k * (k - 1) * (2 * k + 5), 0);
  const m = n * (n - 1);
  const variance =
    (m * (2 * n + 5) - spread(tiesX) - spread(tiesY)) / 18 +
    (2 * tiedX * tiedY) / m +
    (triple(tiesX) * triple(tiesY)) / (9 * m * (n - 2));
  return { tau, pValue: Math.min(1, 2 * normalUpperTail(Math.abs(score) / Math.sqrt(variance))) };
}

/** Probability of at most `discordant` discordant pairs or as few concordant ones among n in random order. */
function exactPValue(n: number, discordant: number): number {
  if (4 * discordant >= n * (n - 1)) return 1;
  // Orders of n with k inversions, as shares of all n!: row n follows from row n - 1 by a running sum.
  let shares = new Float64Array(discordant + 1);
  shares[0] = 1;
  for (let j = 2; j <= n; j++) {
    const row = new Float64Array(discordant + 1);
    let sum = 0;
    for (let k = 0; k <= discordant; k++) {
      sum += shares[k]!;
      if (k >= j) sum -= shares[k - j]!;
      row[k] = sum / j;
    }
    shares = row;
  }
  return Math.min(1, 2 * shares.reduce((sum, share) => sum + share, 0));
}

export interface TrendTest extends Kendall {
  /** Lag-1 correlation of the scatter about the line that was taken out first. */
  lag1: number;
  runs: number;
}

/**
 * Is there a trend, allowing for runs that resemble the run before?
 *
 * The scatter's lag-1 correlation is estimated about the Theil-Sen line (estimating it with the trend still in would
 * take the trend for correlation), taken out (pre-whitening), and the rest tested. Never more significant than the
 * test of the series as it stands. Assumes about even spacing: the correlation is from run to run.
 */
export function trendTest(timeMs: readonly number[], values: readonly number[]): TrendTest {
  const plain = kendall(timeMs, values);
  const runs = values.length;
  if (runs < 4 || plain.tau === null) return { ...plain, lag1: 0, runs };
  const line = theilSen(timeMs, values);
  const residuals = values.map((value, i) => value - line.intercept - line.slope * timeMs[i]!);
  const r = lag1(residuals, 2);
  const white = kendall(timeMs.slice(1), preWhiten(values, r));
  return { tau: plain.tau, pValue: Math.max(plain.pValue, white.pValue), lag1: r, runs };
}
