import type { Density } from '../dsp/spectrum.ts';
import type { Band } from './bands.ts';

/** Reference of acceleration levels, m/s² (ISO 1683). */
const REFERENCE_M_PER_S2 = 1e-6;
/** The level of nothing at all: far below any sensor, but a number. */
const LEAST_POWER = 1e-24;

/** Mean square (m/s²)² as a level in dB re 1 µm/s². */
export function levelOfPower(power: number): number {
  return 10 * Math.log10(Math.max(power, LEAST_POWER) / REFERENCE_M_PER_S2 ** 2);
}

/**
 * Mean square between two frequencies. A line stands for the strip of half a line spacing to each side; a strip cut
 * by a band's edge counts with the share inside, so that neighbouring bands add up to the whole.
 */
export function bandPower(
  { density, stepHz }: Density,
  { fromHz, toHz }: Pick<Band, 'fromHz' | 'toHz'>,
): number {
  const first = Math.max(0, Math.floor(fromHz / stepHz - 0.5));
  const last = Math.min(density.length - 1, Math.ceil(toHz / stepHz + 0.5));
  let sum = 0;
  for (let k = first; k <= last; k++) {
    const inside = Math.min(toHz, (k + 0.5) * stepHz) - Math.max(fromHz, (k - 0.5) * stepHz);
    if (inside > 0) sum += density[k]! * inside;
  }
  return sum;
}

/**
 * Statistical bandwidth (integral S)² / integral S² of what lies in a band: how many independent values per second
 * its power has. A flat band has its own width, a tone only about the width of one line.
 *
 * The squares of a density averaged over few segments are too large by 1 + 1/segments; that is taken out.
 * Source: Bendat and Piersol, "Random Data", 4th ed., 8.5.1.
 */
export function statisticalBandwidthHz(
  { density, stepHz }: Density,
  { fromHz, toHz }: Pick<Band, 'fromHz' | 'toHz'>,
  segments: number,
): number {
  let sum = 0;
  let squares = 0;
  for (let k = Math.ceil(fromHz / stepHz); k * stepHz <= toHz && k < density.length; k++) {
    sum += density[k]!;
    squares += density[k]! ** 2;
  }
  if (squares === 0) return stepHz;
  const width = ((sum * sum) / squares) * (1 + 1 / segments) * stepHz;
  return Math.max(stepHz, Math.min(toHz - fromHz, width));
}

/** Standard deviation, dB, of a level averaged over B T: 10 log10(e) / sqrt(B T), of a power 1/sqrt(B T) (same source). */
export function randomErrorDb(bandwidthHz: number, seconds: number): number {
  return (10 * Math.LOG10E) / Math.sqrt(bandwidthHz * seconds);
}
