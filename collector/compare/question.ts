/** What is compared: records of several locations over the same seconds. */

export type WindowMark = 'noise' | 'quiet' | 'unmarked';

export interface LocationRecord {
  id: string;
  /** As people say it, in lower case: "rear axle". */
  name: string;
  /** Which board, and so which clock, recorded it. */
  board: string;
  sampleRateHz: number;
  /** One array per axis, equally long, m/s². All records begin at the same instant of station time. */
  axes: Float64Array[];
  /**
   * Largest error of the level from sensor and mounting together, as a share of the value. Default 0.1: a cheap
   * sensor as delivered, on a clamp, well below the clamp's resonance (common practice, no source).
   */
  toleranceShare?: number;
  /** Up to where sensor and mounting are flat, where that is lower than the sample rate allows. */
  bandwidthHz?: number;
  /** Noise of the sensor itself, (m/s²)/sqrt(Hz). Bands that hardly rise above it do not take part. */
  noiseDensityMPerS2PerSqrtHz?: number;
  /** Largest error of the board's clock against station time, ms; null or absent where it is not known. */
  timeUncertaintyMs?: number | null;
  /** Windows that may not be used (gap, clipped ...), counted from 0. */
  unusableWindows?: readonly number[];
}

export interface CompareQuestion {
  locations: readonly LocationRecord[];
  /** Length of one window. Default 1 s. */
  windowS?: number;
  /** One mark per window, counted from 0. With both noise and quiet windows only what the noise adds is compared. */
  marks?: readonly WindowMark[];
  /** Compare in this range only, for example around a finding. */
  bandHz?: [number, number];
  /** The noise repeats at this rate (a defect frequency): the size of its line is compared as well. */
  defectHz?: number;
}

export const DEFAULT_WINDOW_S = 1;
/** Verdicts need this many windows; scatter of fewer cannot be told. */
export const LEAST_WINDOWS = 5;
const DEFAULT_TOLERANCE_SHARE = 0.1;
/** Sample rate over usable bandwidth of a common anti-alias filter (common practice, no source). */
const RATE_PER_BANDWIDTH = 2.56;

/** Up to where a record can be trusted. */
export function usableBandwidthHz(record: LocationRecord): number {
  return Math.min(record.bandwidthHz ?? Number.POSITIVE_INFINITY, record.sampleRateHz / RATE_PER_BANDWIDTH);
}

/** Standard deviation, dB, of a level by the tolerance of its sensor, taken as evenly spread between the limits (GUM, 4.3.7). */
export function toleranceSdDb(record: LocationRecord): number {
  return (20 * Math.log10(1 + (record.toleranceShare ?? DEFAULT_TOLERANCE_SHARE))) / Math.sqrt(3);
}

/** Whole windows that every record holds. */
export function wholeWindows(locations: readonly LocationRecord[], windowS: number): number {
  return Math.min(
    ...locations.map(({ axes, sampleRateHz }) => Math.floor(axes[0]!.length / sampleRateHz / windowS + 1e-9)),
  );
}

/** Throws a RangeError that names the location and what is wrong with its record. */
export function checkQuestion(question: CompareQuestion): void {
  const { locations } = question;
  if (locations.length < 2)
    throw new RangeError(`two locations or more are compared, got ${locations.length}`);
  checkRecords(question);
}

/** The same for any number of locations. */
export function checkRecords(question: CompareQuestion): void {
  const { locations, windowS = DEFAULT_WINDOW_S, marks, bandHz, defectHz } = question;
  if (defectHz !== undefined && !(defectHz > 0)) {
    throw new RangeError(`a defect frequency must be over 0 Hz, got ${defectHz}`);
  }
  if (locations.length === 0) throw new RangeError('no location is given');
  if (!(windowS > 0)) throw new RangeError(`a window must last longer than 0 s, got ${windowS}`);
  if (bandHz !== undefined && !(bandHz[0] > 0 && bandHz[1] > bandHz[0])) {
    throw new RangeError(
      `band ${bandHz[0]} to ${bandHz[1]} Hz: give a lower and a higher frequency over 0 Hz`,
    );
  }
  const seen = new Set<string>();
  for (const { id, name, axes, sampleRateHz, toleranceShare } of locations) {
    const refuse = (what: string): never => {
      throw new RangeError(`location ${name} (${id}): ${what}`);
    };
    if (seen.has(id)) refuse('it is named twice');
    seen.add(id);
    if (!(sampleRateHz > 0)) refuse(`the sample rate must be over 0, got ${sampleRateHz}`);
    if (axes.length === 0) refuse('it has no axis; give at least one');
    if (toleranceShare !== undefined && !(toleranceShare >= 0 && toleranceShare < 1)) {
      refuse(`a tolerance is a share from 0 to 1, got ${toleranceShare}`);
    }
    axes.forEach((samples, axis) => {
      if (samples.length !== axes[0]!.length) {
        refuse(`axis ${axis + 1} has ${samples.length} samples, axis 1 has ${axes[0]!.length}`);
      }
      const bad = samples.findIndex((value) => !Number.isFinite(value));
      if (bad >= 0)
        refuse(
          `sample ${bad} of axis ${axis + 1} is no number; mark that window as unusable and put 0 there`,
        );
    });
  }
  const windows = wholeWindows(locations, windowS);
  if (windows < 1) throw new RangeError(`the shortest record is shorter than one window of ${windowS} s`);
  if (marks !== undefined && marks.length < windows) {
    throw new RangeError(`${marks.length} marks for ${windows} windows; give one mark per window`);
  }
}

/** Samples of the axis with the greatest sum of squares about its mean. */
export function strongestAxis({ axes }: LocationRecord): Float64Array {
  const powers = axes.map((samples) => {
    let [sum, squares] = [0, 0];
    for (const value of samples) {
      sum += value;
      squares += value * value;
    }
    return squares - (sum * sum) / samples.length;
  });
  return axes[powers.indexOf(Math.max(...powers))]!;
}
