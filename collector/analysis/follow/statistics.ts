const DRAWS = 400;

/**
 * Share of records drawn anew (blocks with replacement, neighbouring pairs together because they overlap) in which
 * `own` sums to more than each of `rivals`. Never stated above 1 - 1 / draws. Seeded: the same record gives the
 * same answer.
 */
export function bootstrapShare(own: number[], rivals: number[][]): number {
  const count = own.length;
  if (rivals.length === 0) return 1 - 1 / DRAWS;
  let state = 1;
  let won = 0;
  for (let draw = 0; draw < DRAWS; draw++) {
    let mine = 0;
    const theirs = new Float64Array(rivals.length);
    for (let k = 0; k < count; k += 2) {
      state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
      const at = Math.floor((state / 2 ** 32) * count);
      for (const block of [at, (at + 1) % count]) {
        mine += own[block]!;
        for (let r = 0; r < rivals.length; r++) theirs[r]! += rivals[r]![block]!;
      }
    }
    if (theirs.every((sum) => mine > sum)) won++;
  }
  return Math.min(1 - 1 / DRAWS, won / DRAWS);
}

/** Spearman's rank correlation; null where either side is constant. */
export function rankCorrelation(a: number[], b: number[]): number | null {
  const ra = ranks(a);
  const rb = ranks(b);
  const mean = (a.length + 1) / 2;
  let cross = 0;
  let squareA = 0;
  let squareB = 0;
  for (let k = 0; k < a.length; k++) {
    cross += (ra[k]! - mean) * (rb[k]! - mean);
    squareA += (ra[k]! - mean) ** 2;
    squareB += (rb[k]! - mean) ** 2;
  }
  return squareA === 0 || squareB === 0 ? null : cross / Math.sqrt(squareA * squareB);
}

/** Ranks from 1; equal values share the mean of theirs. */
function ranks(values: number[]): number[] {
  const order = values.map((_, k) => k).sort((x, y) => values[x]! - values[y]!);
  const result = new Array<number>(values.length);
  for (let start = 0; start < order.length; ) {
    let end = start;
    while (end + 1 < order.length && values[order[end + 1]!] === values[order[start]!]) end++;
    for (let k = start; k <= end; k++) result[order[k]!] = (start + end) / 2 + 1;
    start = end + 1;
  }
  return result;
}
