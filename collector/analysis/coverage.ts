import type { BearingQuestion } from './bearing-defect.ts';
import { bearingFamilies } from './bearing-families.ts';
import { searchBands } from './bearing-search.ts';

/** Sample rate over usable bandwidth of a common anti-alias filter (common practice, no source). */
const RATE_PER_BANDWIDTH = 2.56;
/** Early bearing faults ring structures from about 2 kHz up (common practice, no source); 5 kHz is better. */
const EARLY_FAULT_HZ = 2500;

export interface Coverage {
  /** Nothing can be said at all, and why. */
  blocking: string | null;
  /** A strong fault would show, but the absence of lines proves little, and why. */
  weak: string | null;
}

/** Can this record show a defect of this bearing? */
export function coverage(question: BearingQuestion): Coverage {
  const { samples, sampleRateHz, shaftHz, multipliers } = question;
  if (!(shaftHz > 0))
    throw new RangeError(`the shaft's speed must be over 0 turns per second, got ${shaftHz}`);
  const seconds = samples.length / sampleRateHz;
  const families = bearingFamilies(multipliers, shaftHz);
  const highestHz = Math.max(...families.map((family) => family.expectedHz));
  const turns = seconds * shaftHz;
  // Lines 2 % apart have to separate from the shaft's orders, and the averages over fifths need a few turns each.
  if (turns < 30) {
    return {
      blocking: `the record spans ${turns.toFixed(1)} turns of the shaft; at least 30 are needed (${(30 / shaftHz).toFixed(1)} s)`,
      weak: null,
    };
  }
  if (searchBands(question, highestHz).every(([low, high]) => high - low < 4 * highestHz)) {
    return {
      blocking:
        question.bandHz === undefined
          ? `at ${sampleRateHz} samples/s no band is wide enough for two harmonics of ${highestHz.toFixed(0)} Hz`
          : `the stated band is narrower than the ${(4 * highestHz).toFixed(0)} Hz that two harmonics need`,
      weak: null,
    };
  }
  const bandwidthHz = Math.min(question.sensorBandwidthHz ?? Infinity, sampleRateHz / RATE_PER_BANDWIDTH);
  const weak =
    bandwidthHz < EARLY_FAULT_HZ
      ? `no lines, but the band ends at ${bandwidthHz.toFixed(0)} Hz and early bearing faults mostly show above; ` +
        'use a sensor with 5 kHz or more'
      : null;
  return { blocking: null, weak };
}
