import type { BlockSpectrum } from '../model.ts';
import { packAxes, unpackAxes } from './reading-row.ts';
import type { MeanSpectrum } from './reading-store.ts';

/** Mean spectrum of a minute as a row: axes one after the other, two bytes a band. */
export interface SpectrumRow {
  slot: number;
  count: number;
  axes: number;
  first_band: number;
  packed: Buffer;
}

/** A mean that grows block by block. */
export interface SpectrumSum {
  count: number;
  /** As packed (reading-row.ts). */
  axes: number;
  firstBand: number;
  /** Mean of each axis, band by band. */
  mean: Float64Array[];
}

/**
 * A band is kept as whole hundredths of a decibel over this density: 655 dB of range in two bytes, and rounding of
 * 0.06 % in level, far below any sensor's tolerance, at half the size of a float. 0 stands for nothing at all.
 */
const REFERENCE = 1e-20;
const STEPS_PER_DECADE = 1000;

export function sumOf(row: SpectrumRow): SpectrumSum {
  const axes = unpackAxes(row.axes).length;
  const bands = row.packed.length / 2 / axes;
  const mean = Array.from({ length: axes }, (_, axis) =>
    Float64Array.from({ length: bands }, (_, band) =>
      densityOf(row.packed.readUInt16LE(2 * (axis * bands + band))),
    ),
  );
  return { count: row.count, axes: row.axes, firstBand: row.first_band, mean };
}

export function rowOfSum(slot: number, { count, axes, firstBand, mean }: SpectrumSum): SpectrumRow {
  const bands = mean[0]?.length ?? 0;
  const packed = Buffer.allocUnsafe(2 * mean.length * bands);
  let at = 0;
  for (const axis of mean) for (const value of axis) at = packed.writeUInt16LE(stepsOf(value), at);
  return { slot, count, axes, first_band: firstBand, packed };
}

function stepsOf(density: number): number {
  if (!(density > REFERENCE)) return 0;
  return Math.min(65_535, Math.max(1, Math.round(STEPS_PER_DECADE * Math.log10(density / REFERENCE))));
}

function densityOf(steps: number): number {
  return steps === 0 ? 0 : REFERENCE * 10 ** (steps / STEPS_PER_DECADE);
}

/** One block, as a sum to begin with. */
export function sumOfBlock({ axes, firstBand, density }: BlockSpectrum): SpectrumSum {
  return { count: 1, axes: packAxes(axes), firstBand, mean: density };
}

/**
 * Both as one mean, over the bands that both have: a sample rate found to be a little different may end a band
 * sooner. Of sensors with other axes the longer one stays.
 */
export function joined(a: SpectrumSum, b: SpectrumSum): SpectrumSum {
  if (a.axes !== b.axes) return a.count >= b.count ? a : b;
  const firstBand = Math.max(a.firstBand, b.firstBand);
  const end = Math.min(a.firstBand + a.mean[0]!.length, b.firstBand + b.mean[0]!.length);
  const count = a.count + b.count;
  const mean = a.mean.map((own, axis) => {
    const other = b.mean[axis]!;
    return Float64Array.from({ length: Math.max(0, end - firstBand) }, (_, i) => {
      const [x, y] = [own[firstBand - a.firstBand + i]!, other[firstBand - b.firstBand + i]!];
      return x + ((y - x) * b.count) / count;
    });
  });
  return { count, axes: a.axes, firstBand, mean };
}

/** Mean of minutes, each by its blocks; null without any. */
export function meanOf(rows: readonly SpectrumRow[]): MeanSpectrum | null {
  const [first, ...rest] = rows;
  if (first === undefined) return null;
  let sum = sumOf(first);
  for (const row of rest) sum = joined(sum, sumOf(row));
  return {
    fromMs: first.slot * 60_000,
    toMs: (rows.at(-1)!.slot + 1) * 60_000,
    blocks: sum.count,
    axes: unpackAxes(sum.axes),
    firstBand: sum.firstBand,
    density: sum.mean.map((axis) => Array.from(axis)),
  };
}
