/** Texts that explain trade terms: flags, values, zones, classes. */
import type { MachineClass, TrendValue } from '../contract/model.ts';

interface ValueWords {
  key: TrendValue;
  name: string;
  /** Long form of an abbreviation in the name, if there is one. */
  spelt?: string;
  unit: string;
  explanation: string;
}

export const VALUES: readonly ValueWords[] = [
  {
    key: 'velocityRmsMmPerS',
    name: 'Velocity RMS',
    spelt: 'root mean square',
    unit: 'mm/s',
    explanation:
      'How fast the surface moves to and fro, averaged over the second as a square mean. Speaks for the overall ' +
      'severity of imbalance, looseness and misalignment. The zones are defined on it.',
  },
  {
    key: 'accelerationRmsMPerS2',
    name: 'Acceleration RMS',
    spelt: 'root mean square',
    unit: 'm/s²',
    explanation:
      'How strongly the surface is shaken. Weighs high frequencies more than velocity does, so gears and bearings ' +
      'show here first.',
  },
  {
    key: 'accelerationPeakMPerS2',
    name: 'Acceleration peak',
    unit: 'm/s²',
    explanation: 'Largest single swing away from the mean in that second. Knocks and impacts raise it.',
  },
  {
    key: 'crestFactor',
    name: 'Crest factor',
    unit: '',
    explanation:
      'Peak divided by RMS, both of acceleration. A pure tone has 1.41, random noise about 4 over one second; ' +
      'separate impacts give more. It falls again when damage spreads, so read it with the levels.',
  },
  {
    key: 'kurtosis',
    name: 'Kurtosis',
    unit: '',
    explanation:
      'How spiky the signal is: 3 for random noise, 1.5 for a pure tone, clearly more for separate impacts. ' +
      'Like the crest factor it can fall again as damage spreads.',
  },
];

export const valueWords = (key: TrendValue): ValueWords => VALUES.find((value) => value.key === key)!;

const FLAGS: Record<string, string> = {
  clipped: 'clipped: the shaking exceeds the sensor’s range, the true level is higher',
  gap: 'gap: samples of this second are missing',
  'below-noise-floor': 'below the sensor’s noise floor: the true level is lower',
  'band-not-covered': 'band not covered: the sample rate is too low for the full band',
  settling: 'settling: the filter is still starting up',
  'unknown-scale': 'unknown scale: the node does not say its full scale',
  stuck: 'stuck: the sensor repeats one value',
  rattle: 'rattle: the sensor bangs in its clamp, which may be loose; this is not the machine’s level',
  'time-unknown': 'time unknown: the node has not yet agreed on a clock with the station',
};

/** A flag in plain words; an unknown one as it came, so that nothing is hidden. */
export const flagText = (flag: string): string => FLAGS[flag] ?? flag.replaceAll('-', ' ');

export interface ClassWords {
  machineClass: MachineClass;
  explanation: string;
  /** Boundaries A/B, B/C, C/D of velocity RMS in mm/s. */
  boundariesMmPerS: readonly [number, number, number];
}

/** Classes and boundaries of ISO 10816-1 Annex B, from secondary texts. */
export const CLASSES: readonly ClassWords[] = [
  {
    machineClass: 'I',
    explanation: 'small: parts of engines and machines, electric motors up to 15 kW',
    boundariesMmPerS: [0.71, 1.8, 4.5],
  },
  {
    machineClass: 'II',
    explanation: 'medium: motors of 15 to 75 kW, engines up to 300 kW rigidly mounted',
    boundariesMmPerS: [1.12, 2.8, 7.1],
  },
  {
    machineClass: 'III',
    explanation: 'large machines on rigid and heavy foundations',
    boundariesMmPerS: [1.8, 4.5, 11.2],
  },
  {
    machineClass: 'IV',
    explanation: 'large machines on comparatively soft foundations',
    boundariesMmPerS: [2.8, 7.1, 18],
  },
];

export const classWords = (machineClass: MachineClass): ClassWords =>
  CLASSES.find((entry) => entry.machineClass === machineClass)!;

export { ZONE_LIMITS, ZONE_MEANING } from '../contract/words/zones.ts';
