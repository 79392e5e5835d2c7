/** Which sample counters of a boot have been taken in: a short ordered list of half-open ranges. */

/** [from, to). Serialisable. */
export type Range = [number, number];

/**
 * Most ranges kept. Beyond that the two ranges with the smallest hole between them become one: a packet that
 * arrives later for that hole is dropped as too late.
 */
export const MAX_RANGES = 64;

/** Adds [from, to) to the ranges, joining what touches or overlaps. */
export function cover(ranges: Range[], from: number, to: number): void {
  let first = 0;
  while (first < ranges.length && ranges[first]![1] < from) first++;
  let last = first;
  let low = from;
  let high = to;
  while (last < ranges.length && ranges[last]![0] <= to) {
    low = Math.min(low, ranges[last]![0]);
    high = Math.max(high, ranges[last]![1]);
    last++;
  }
  ranges.splice(first, last - first, [low, high]);
  if (ranges.length > MAX_RANGES) closeSmallestHole(ranges);
}

function closeSmallestHole(ranges: Range[]): void {
  let at = 1;
  for (let i = 2; i < ranges.length; i++) {
    if (ranges[i]![0] - ranges[i - 1]![1] < ranges[at]![0] - ranges[at - 1]![1]) at = i;
  }
  ranges[at - 1]![1] = ranges[at]![1];
  ranges.splice(at, 1);
}

/** The parts of [from, to) not covered yet, in order. */
export function uncovered(ranges: readonly Range[], from: number, to: number): Range[] {
  const parts: Range[] = [];
  let at = from;
  for (const [low, high] of ranges) {
    if (high <= at) continue;
    if (low >= to) break;
    if (low > at) parts.push([at, low]);
    at = high;
  }
  if (at < to) parts.push([at, to]);
  return parts;
}

/** Takes [from, to) out of the ranges again. */
export function forget(ranges: readonly Range[], from: number, to: number): Range[] {
  return ranges.flatMap(([low, high]): Range[] => {
    const parts: Range[] = [
      [low, Math.min(high, from)],
      [Math.max(low, to), high],
    ];
    return parts.filter(([begin, end]) => begin < end);
  });
}
