import { type Random, uniform } from './random.ts';
import { levelDb, median, quantileOfSorted } from './robust.ts';
import type { BinLevel } from './trend-index.ts';

/** Level of one bin of one run, with the stretch (mount, node, tyre) it was taken in. */
export interface PlacedLevel extends BinLevel {
  stretch: number;
}

export type MatchedComparison =
  | {
      kind: 'compared';
      /** After against before, dB, over the bins that both have; negative is quieter. */
      changeDb: number;
      /** 95 % interval. */
      lowDb: number;
      highDb: number;
      bins: { bin: string; before: number; after: number; changeDb: number }[];
      /** Bins that only one side has enough runs of: not compared. */
      leftOut: string[];
    }
  | {
      kind: 'not-compared';
      reason: 'mixed-stretches' | 'different-stretch' | 'no-common-bin';
      leftOut: string[];
    };

/** Runs of a bin needed on each side. */
const LEAST_RUNS = 3;
const RESAMPLES = 500;

/**
 * Has it changed, like compared with like? Within each bin the shift is the median of all differences after - before
 * (Hodges and Lehmann 1963), over bins the mean weighted by n1 n2 / (n1 + n2). The interval resamples the runs within
 * each bin and side, scatter enlarged by sqrt(n / (n - 1)) because few runs show too little of it.
 *
 * @param options.acrossBreak compare two stretches on purpose: before and after a repair with the mount left where it was
 */
export function matchedComparison(
  before: readonly PlacedLevel[],
  after: readonly PlacedLevel[],
  options: { acrossBreak?: boolean; next?: Random } = {},
): MatchedComparison {
  const names = [...new Set([...before, ...after].map(({ bin }) => bin))];
  const pick = (side: readonly PlacedLevel[], bin: string) =>
    side.filter((level) => level.bin === bin).map(({ value }) => levelDb(value, 1));
  const all = names.map((bin) => ({ bin, was: pick(before, bin), is: pick(after, bin) }));
  const enough = ({ was, is }: { was: number[]; is: number[] }) =>
    Math.min(was.length, is.length) >= LEAST_RUNS;
  const leftOut = all.filter((entry) => !enough(entry)).map(({ bin }) => bin);
  const refuse = (reason: 'mixed-stretches' | 'different-stretch' | 'no-common-bin') =>
    ({ kind: 'not-compared', reason, leftOut }) as const;

  const stretches = [before, after].map((side) => [...new Set(side.map(({ stretch }) => stretch))]);
  if (stretches.some((side) => side.length > 1)) return refuse('mixed-stretches');
  if (stretches[0]![0] !== stretches[1]![0] && !options.acrossBreak) return refuse('different-stretch');
  const common = all.filter(enough);
  if (common.length === 0) return refuse('no-common-bin');

  const next = options.next ?? uniform(before.length * 1000 + after.length);
  const changes = new Float64Array(RESAMPLES);
  for (let b = 0; b < RESAMPLES; b++) {
    changes[b] = combined(common.map(({ was, is }) => ({ was: again(was, next), is: again(is, next) })));
  }
  changes.sort();
  return {
    kind: 'compared',
    changeDb: combined(common),
    lowDb: quantileOfSorted(changes, 0.025),
    highDb: quantileOfSorted(changes, 0.975),
    bins: common.map(({ bin, was, is }) => ({
      bin,
      before: was.length,
      after: is.length,
      changeDb: shift(was, is),
    })),
    leftOut,
  };
}

function shift(was: readonly number[], is: readonly number[]): number {
  return median(is.flatMap((now) => was.map((then) => now - then)));
}

function combined(bins: readonly { was: readonly number[]; is: readonly number[] }[]): number {
  let sum = 0;
  let weights = 0;
  for (const { was, is } of bins) {
    const weight = (was.length * is.length) / (was.length + is.length);
    sum += weight * shift(was, is);
    weights += weight;
  }
  return sum / weights;
}

function again(values: readonly number[], next: Random): number[] {
  const n = values.length;
  const middle = values.reduce((sum, value) => sum + value, 0) / n;
  const grow = Math.sqrt(n / (n - 1));
  return values.map(() => middle + grow * (values[Math.floor(next() * n)]! - middle));
}
