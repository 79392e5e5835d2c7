/**
 * Shapes of growth as scales on which growth is a straight line (Box and Cox 1964).
 *
 * For the ratio v of a level to its baseline, z = (v^p - 1) / p, written in decibels: p = 1 linear growth, p = 0
 * (limit: the logarithm) exponential growth, p = -1 run-away growth, whose level 1 / (1 - t/T) leaves every bound at a
 * day T, as cracks and loosened parts do.
 */
export type GrowthShape = -1 | 0 | 1;

export const GROWTH_SHAPES: readonly GrowthShape[] = [-1, 0, 1];

const NEPER = Math.LN10 / 20;

/** Level in dB above the baseline -> place on the shape's scale; equal to the dB near the baseline. */
export function onShape(db: number, shape: GrowthShape): number {
  return shape === 0 ? db : (Math.exp(shape * db * NEPER) - 1) / (shape * NEPER);
}

/** How much the shape's scale stretches a small difference in dB at this level: d onShape / d db. */
export function stretch(db: number, shape: GrowthShape): number {
  return Math.exp(shape * db * NEPER);
}
