import { type ComplexEnvelope, complexEnvelope, type RecordSpectrum } from './hilbert.ts';

export interface BandKurtosis {
  bandHz: [number, number];
  /** 0 for Gaussian noise, -1 for a steady tone, large for rare bursts. */
  spectralKurtosis: number;
}

export interface BandSetOptions {
  /** Lowest band edge; default 4 % of half the sample rate. */
  lowestHz?: number;
  /** Highest band edge; default 95 % of half the sample rate (anti-alias filters roll off above). */
  highestHz?: number;
  /** No band narrower than this. */
  narrowestHz?: number;
}

/** Into how many equal parts the range is cut at each level: binary and ternary, as in the fast kurtogram. */
const PARTS = [1, 2, 3, 4, 6, 8, 12];

/**
 * The fixed set of bands that is searched. Order: whole range first, then ever narrower. Follows the 1/2 and 1/3
 * tree of J. Antoni, "Fast computation of the kurtogram for the detection of transient faults", 2007.
 */
export function candidateBands(sampleRateHz: number, options: BandSetOptions = {}): [number, number][] {
  const lowest = options.lowestHz ?? 0.04 * (sampleRateHz / 2);
  const highest = Math.min(options.highestHz ?? Number.POSITIVE_INFINITY, 0.95 * (sampleRateHz / 2));
  const bands: [number, number][] = [];
  if (!(highest > lowest)) return bands;
  for (const parts of PARTS) {
    const width = (highest - lowest) / parts;
    if (parts > 1 && width < (options.narrowestHz ?? 0)) break;
    for (let k = 0; k < parts; k++) bands.push([lowest + k * width, lowest + (k + 1) * width]);
  }
  return bands;
}

/**
 * Spectral kurtosis of one band: <|z|^4> / <|z|²>² - 2 (Antoni 2006). Taken as the median over eight stretches
 * of the record, so that a single knock (a dropped spanner, a pothole) does not choose the band.
 */
function spectralKurtosis(envelope: ComplexEnvelope, stretches = 8): number {
  const count = envelope.values.length / 2;
  const length = Math.max(1, Math.floor(count / stretches));
  const values: number[] = [];
  for (let start = 0; start + length <= count; start += length) {
    let second = 0;
    let fourth = 0;
    for (let k = start; k < start + length; k++) {
      const power = envelope.values[2 * k]! ** 2 + envelope.values[2 * k + 1]! ** 2;
      second += power;
      fourth += power * power;
    }
    values.push(second === 0 ? -2 : (fourth * length) / (second * second) - 2);
  }
  values.sort((a, b) => a - b);
  const middle = values.length / 2;
  return (values[Math.floor(middle - 0.5)]! + values[Math.floor(middle)]!) / 2;
}

/** Spectral kurtosis of every candidate band, most impulsive first. */
export function kurtogram(record: RecordSpectrum, options: BandSetOptions = {}): BandKurtosis[] {
  return candidateBands(record.sampleRateHz, options)
    .map((bandHz) => ({ bandHz, spectralKurtosis: spectralKurtosis(complexEnvelope(record, bandHz)) }))
    .sort((a, b) => b.spectralKurtosis - a.spectralKurtosis);
}
