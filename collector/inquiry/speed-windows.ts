/** Which part of a run tells best what follows which speed. Pure. */
import type { Span } from '../capture/capture.ts';

/** A speed over event time. */
export interface SpeedSeries {
  /** Rising. */
  atMs: readonly number[];
  /** Turns per second. */
  hz: readonly number[];
}

/** Shorter says too little: a dozen blocks of a second that overlap by half. */
export const SHORTEST_S = 10;
const LONGEST_S = 90;
/** Rows of a speed further apart than this leave a gap. */
const LONGEST_GAP_MS = 3000;
/** Slower than this something stands still. */
const STANDING_HZ = 0.5;
/** Below this share of its highest speed a shaft turns too little in a block to show its orders. */
const SLOWEST_SHARE = 0.1;
const STEP_S = 5;

export interface SpeedWindows {
  /** Numbers of the speeds that can be followed. */
  used: number[];
  /** Numbers of those that stood still throughout. */
  standing: number[];
  /** Best first; they do not overlap. */
  windows: Span[];
}

/**
 * Windows of 10 to 90 s in which all usable speeds are known and turning, those in which they vary most (each alone,
 * and against each other) first.
 */
export function speedWindows(speeds: readonly SpeedSeries[], span: Span): SpeedWindows {
  const first = Math.ceil(span.fromMs / 1000);
  const count = Math.max(0, Math.floor(span.toMs / 1000) - first);
  const known = speeds.map((speed) => perSecond(speed, first, count));
  const highest = known.map((row) => row.reduce((most, value) => Math.max(most, value || 0), 0));
  const covered = known.map((row) => row.filter((value) => !Number.isNaN(value)).length);
  const most = Math.max(0, ...covered);
  const numbers = speeds.map((_, i) => i);
  // One that was told now and then must not take the others' time away.
  const told = numbers.filter((i) => covered[i]! > 0 && covered[i]! >= most / 2);
  const standing = told.filter((i) => highest[i]! < STANDING_HZ);
  const used = told.filter((i) => highest[i]! >= STANDING_HZ);
  if (used.length === 0) return { used, standing, windows: [] };
  const rows = used.map((i) => known[i]!);
  const isUsable = (s: number) =>
    used.every((i) => known[i]![s]! >= Math.max(STANDING_HZ, SLOWEST_SHARE * highest[i]!));

  const candidates: { from: number; to: number; score: number }[] = [];
  for (let s = 0; s < count; s++) {
    if (!isUsable(s)) continue;
    const from = s;
    while (s < count && isUsable(s)) s++;
    for (let at = from; at + SHORTEST_S <= s; at += STEP_S) {
      const to = Math.min(s, at + LONGEST_S);
      candidates.push({ from: at, to, score: variation(rows, at, to) * Math.sqrt(to - at) });
      if (to === s) break;
    }
  }
  candidates.sort((a, b) => b.score - a.score);
  const chosen: typeof candidates = [];
  for (const one of candidates) {
    if (chosen.every(({ from, to }) => one.to <= from || one.from >= to)) chosen.push(one);
  }
  const windows = chosen.map(({ from, to }) => ({
    fromMs: 1000 * (first + from),
    toMs: 1000 * (first + to),
  }));
  return { used, standing, windows };
}

/** Value in the middle of each second; not a number where the rows around it are too far apart. */
function perSecond({ atMs, hz }: SpeedSeries, first: number, count: number): Float64Array {
  const row = new Float64Array(count).fill(Number.NaN);
  let k = 0;
  for (let s = 0; s < count; s++) {
    const at = 1000 * (first + s) + 500;
    while (k + 1 < atMs.length && atMs[k + 1]! <= at) k++;
    const [before, after] = [atMs[k], atMs[k + 1]];
    if (before === undefined || after === undefined || at < before || after - before > LONGEST_GAP_MS)
      continue;
    row[s] = hz[k]! + ((hz[k + 1]! - hz[k]!) * (at - before)) / (after - before);
  }
  return row;
}

/** Standard deviations of the logarithms of the speeds and of their ratios, added up. */
function variation(rows: readonly Float64Array[], from: number, to: number): number {
  const logs = rows.map((row) => Array.from(row.subarray(from, to), Math.log));
  let sum = 0;
  for (const [i, one] of logs.entries()) {
    sum += deviation(one);
    for (const other of logs.slice(i + 1)) sum += deviation(one.map((value, k) => value - other[k]!));
  }
  return sum;
}

function deviation(values: readonly number[]): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length);
}
