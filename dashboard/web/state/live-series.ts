import type { Point } from './trend-series.ts';

/** Evenly spaced waveform points over `durationS`, time in seconds from the block's start. */
export function waveformPoints(waveform: readonly number[], durationS: number): Point[] {
  const step = waveform.length > 0 ? durationS / waveform.length : 0;
  return waveform.map((y, index) => ({ x: index * step, y }));
}

/** Spectrum lines from 0 Hz on. The line at 0 Hz is left out: the mean is removed before. */
export function spectrumPoints(spectrum: readonly number[], stepHz: number): Point[] {
  return spectrum.slice(1).map((y, index) => ({ x: (index + 1) * stepHz, y }));
}

export function highestPoint(points: readonly Point[]): { x: number; y: number } | null {
  let highest: { x: number; y: number } | null = null;
  for (const { x, y } of points) if (y !== null && (highest === null || y > highest.y)) highest = { x, y };
  return highest;
}

export const largestMagnitude = (values: readonly number[]): number =>
  values.reduce((largest, value) => Math.max(largest, Math.abs(value)), 0);

/** Smallest 1, 2 or 5 times a power of ten that is not below `value`. */
function roundUp(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value));
  const factor = [1, 2, 5].find((candidate) => candidate * power >= value * (1 - 1e-9)) ?? 10;
  return factor * power;
}

/** Distance of labels on an axis that ends at `end` (1, 2 or 5 times a power of ten): four or five steps. */
export const labelStep = (end: number): number => end / (end.toExponential().startsWith('2') ? 4 : 5);

/**
 * End of a live picture's axis. It grows at once and shrinks only when the signal falls well below, so that the
 * scale does not jump from second to second.
 */
export function axisEnd(before: number | null, largest: number): number {
  if (!(largest > 0)) return before ?? 1;
  if (before !== null && largest <= before && largest >= 0.15 * before) return before;
  return roundUp(largest * 1.05);
}
