/**
 * Check of a sensor on a reference shaker: a small calibrator that vibrates with a known level at one frequency, so that
 * sensor and clamp together are checked where they are used, in motion. Ten m/s² RMS at 159.2 Hz (1000 radians a second)
 * is usual; common practice, no source. Levels are not corrected by it: it is the sensor's tolerance.
 */
import type { AxisName } from '../../firmware-protocol/index.ts';
import type { Flag, Reading } from '../model.ts';

export interface ShakerReference {
  frequencyHz: number;
  accelerationRmsMPerS2: number;
  /** Largest error of the reference itself, percent: see its certificate. */
  tolerancePct: number;
}

export interface ShakerCheckResult {
  reference: ShakerReference;
  axis: AxisName;
  seconds: number;
  measuredRmsMPerS2: number;
  /** Measured over reference, less one, percent. */
  deviationPct: number;
  /** Largest second less smallest, percent of the mean. */
  spreadPct: number;
  /** Largest error of an uncorrected level that this leaves possible, percent. */
  tolerancePct: number;
}

export const SHAKER_SECONDS = 10;
const FEWEST_SECONDS = 5;
/** Limits are common practice without a source. */
const STEADY_PCT = 2;
const TONE_PCT = 5;
const FARTHEST_PCT = 50;
const FREQUENCY_HZ: readonly [number, number] = [12.5, 800];
const SPOILED: readonly Flag[] = [
  'clipped',
  'gap',
  'settling',
  'stuck',
  'unknown-scale',
  'rattle',
  'band-not-covered',
];

/**
 * What the newest seconds of a sensor say that sits on the shaker.
 *
 * @param readings of one sensor, rising in time
 * @throws RangeError in words for a person when they do not fit the reference
 */
export function judgeShaker(readings: readonly Reading[], reference: ShakerReference): ShakerCheckResult {
  const { frequencyHz, accelerationRmsMPerS2 } = reference;
  if (!(frequencyHz >= FREQUENCY_HZ[0] && frequencyHz <= FREQUENCY_HZ[1]))
    throw new RangeError(
      `a frequency from ${FREQUENCY_HZ.join(' to ')} Hz can be checked, not ${frequencyHz} Hz`,
    );
  const seconds = soundSeconds(readings);
  if (seconds.length < FEWEST_SECONDS) {
    throw new RangeError(
      `${seconds.length} sound seconds on end were measured, at least ${FEWEST_SECONDS} are needed: switch the shaker on and wait`,
    );
  }
  const axis = leadingAxis(seconds);
  const levels = seconds.map((one) => valuesOf(one, axis)?.accelerationRmsMPerS2 ?? Number.NaN);
  const mean = meanOf(levels);
  const spreadPct = (100 * (Math.max(...levels) - Math.min(...levels))) / mean;
  if (!(spreadPct <= STEADY_PCT)) {
    throw new RangeError(
      `the level still changes by ${spreadPct.toFixed(1)} % from second to second: let it settle and keep everything still`,
    );
  }
  // Acceleration over 2 pi f is the velocity of a tone of that frequency, and of nothing else.
  const velocity = meanOf(seconds.map((one) => valuesOf(one, axis)?.velocityRmsMmPerS ?? Number.NaN));
  const expected = (1000 * mean) / (2 * Math.PI * frequencyHz);
  if (!(Math.abs(velocity / expected - 1) <= TONE_PCT / 100)) {
    throw new RangeError(`what the sensor feels is no pure tone of ${frequencyHz} Hz`);
  }
  const deviationPct = 100 * (mean / accelerationRmsMPerS2 - 1);
  if (Math.abs(deviationPct) > FARTHEST_PCT) {
    throw new RangeError(
      `the sensor reads ${mean.toPrecision(3)} m/s² of ${accelerationRmsMPerS2}: check that it sits on the shaker, and the reference`,
    );
  }
  return {
    reference,
    axis,
    seconds: seconds.length,
    measuredRmsMPerS2: mean,
    deviationPct,
    spreadPct,
    tolerancePct: Math.abs(deviationPct) + reference.tolerancePct + spreadPct / 2,
  };
}

/** The newest seconds without a hole or a flag that spoils a level. */
function soundSeconds(readings: readonly Reading[]): Reading[] {
  const sound: Reading[] = [];
  for (const reading of [...readings].reverse()) {
    const next = sound[0];
    const isSound = !reading.flags.some((flag) => SPOILED.includes(flag));
    if (!isSound || (next !== undefined && next.startMs - reading.startMs !== 1000)) break;
    sound.unshift(reading);
    if (sound.length === SHAKER_SECONDS) break;
  }
  return sound;
}

function leadingAxis(seconds: readonly Reading[]): AxisName {
  const { axes } = seconds[0]!;
  const level = (axis: AxisName) =>
    meanOf(seconds.map((one) => valuesOf(one, axis)?.accelerationRmsMPerS2 ?? 0));
  return axes.map(({ axis }) => axis).reduce((best, axis) => (level(axis) > level(best) ? axis : best));
}

const valuesOf = ({ axes }: Reading, axis: AxisName) => axes.find((one) => one.axis === axis);
const meanOf = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
