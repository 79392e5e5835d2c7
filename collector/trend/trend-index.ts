import { BASELINE_RULES, type Baseline, type BaselineRules, baseline, type Level } from './baseline.ts';
import { wasRunning } from './condition.ts';
import { levelDb, median, ratioOfDb } from './robust.ts';

/** Level of the part of one run that was driven in one condition bin, within one stretch. */
export interface BinLevel extends Level {
  bin: string;
}

export interface IndexPoint extends Level {
  /** Middle of the run. `value` is a ratio to the baseline: 1 = as then. */
  timeMs: number;
  bins: string[];
}

interface IndexedBin {
  bin: string;
  baseline: Baseline;
  /** How far the index already stood above the baseline while this bin's own baseline was taken, dB. */
  offsetDb: number;
}

export interface TrendIndex {
  points: IndexPoint[];
  bins: IndexedBin[];
  /** Bins that cannot be used yet, with the runs they still need. */
  waiting: { bin: string; runsMissing: number }[];
  /** Levels left out because the machine was not running as for its baseline. */
  notRunning: BinLevel[];
}

/**
 * One trend out of mixed driving: each bin is compared with its own baseline only, and what the bins of one run say is
 * averaged in dB, the steadier bins weighing more (weights 1 / spread²).
 *
 * A bin driven often enough only later gets its baseline later, when wear may have begun; its baseline is then set so
 * that it agrees with the other bins at that time (chaining, as in price indices). Assumes that a change shows alike in
 * all bins; where it does not, the bins' own trends tell.
 *
 * @param levels accepted bins of runs of one stretch, any order; the bins of one run share its `timeMs`
 */
export function trendIndex(levels: readonly BinLevel[], rules: BaselineRules = BASELINE_RULES): TrendIndex {
  const byBin = groupBy(
    levels.toSorted((a, b) => a.timeMs - b.timeMs),
    ({ bin }) => bin,
  );
  const waiting: TrendIndex['waiting'] = [];
  const known: { bin: string; own: BinLevel[]; baseline: Baseline }[] = [];
  for (const [bin, own] of byBin) {
    const found = baseline(own, rules);
    if (found.known) known.push({ bin, own, baseline: found });
    else waiting.push({ bin, runsMissing: found.runsMissing });
  }
  known.sort((a, b) => a.baseline.toMs - b.baseline.toMs);

  const bins: IndexedBin[] = [];
  const notRunning: BinLevel[] = [];
  const parts: { timeMs: number; bin: string; db: number; weight: number }[] = [];
  for (const { bin, own, baseline: base } of known) {
    const first = bins[0]?.baseline;
    const offsetDb = first === undefined || base.fromMs <= first.toMs ? 0 : indexDuring(parts, base);
    bins.push({ bin, baseline: base, offsetDb });
    for (const level of own) {
      if (level.timeMs < base.fromMs) continue;
      if (!wasRunning(level.value, base.median)) notRunning.push(level);
      else {
        const db = levelDb(level.value, base.median) + offsetDb;
        parts.push({ timeMs: level.timeMs, bin, db, weight: base.spreadDb ** -2 });
      }
    }
  }
  const points = [...groupBy(parts, ({ timeMs }) => timeMs)]
    .map(([timeMs, together]) => ({
      timeMs,
      value: ratioOfDb(weightedMean(together)),
      bins: together.map(({ bin }) => bin),
    }))
    .sort((a, b) => a.timeMs - b.timeMs);
  return { points, bins, waiting, notRunning };
}

/** Where the bins already placed stood while this baseline was taken, or last before it. */
function indexDuring(parts: readonly { timeMs: number; db: number }[], base: Baseline): number {
  const during = parts.filter(({ timeMs }) => timeMs >= base.fromMs && timeMs <= base.toMs);
  const before = parts.filter(({ timeMs }) => timeMs < base.fromMs).toSorted((a, b) => a.timeMs - b.timeMs);
  const used = during.length >= 3 ? during : [...before.slice(-5), ...during];
  return median(used.map(({ db }) => db));
}

function weightedMean(parts: readonly { db: number; weight: number }[]): number {
  const weights = parts.reduce((sum, { weight }) => sum + weight, 0);
  return parts.reduce((sum, { db, weight }) => sum + db * weight, 0) / weights;
}

function groupBy<T, K>(items: readonly T[], key: (item: T) => K): Map<K, T[]> {
  const groups = new Map<K, T[]>();
  for (const item of items) {
    const group = groups.get(key(item));
    if (group) group.push(item);
    else groups.set(key(item), [item]);
  }
  return groups;
}
