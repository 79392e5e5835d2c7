import { robustSd } from '../trend/robust.ts';
import { bandPower, levelOfPower, randomErrorDb, statisticalBandwidthHz } from './band-power.ts';
import type { Band } from './bands.ts';
import type { LocationRecord } from './question.ts';
import { meanDensity, type WindowSpectra } from './window-levels.ts';

/** What one location shows in one band. */
export interface LocationBand {
  /** Mean square of the noise, (m/s²)²: all there is, or what the noise windows hold beyond the quiet ones. */
  power: number;
  /** Standard deviation of its level, dB, from chance alone. */
  randomDb: number;
  /** The noise does not stand out of the quiet windows here: `power` is the most it can be. */
  atMost: boolean;
  /** Level of each noise window, dB, with nothing taken off. */
  windowDb: Float64Array;
  /** Power of the sensor's own noise in this band, 0 where it is not stated. */
  floorPower: number;
}

export interface WindowChoice {
  noise: readonly number[];
  /** Empty where no quiet windows are marked. */
  quiet: readonly number[];
  windowS: number;
}

/** A rise that counts as "stands out of the quiet windows", in its own standard deviations. */
const RISE_SD = 3;

/** One location in every band. */
export function locationBands(
  record: LocationRecord,
  spectra: WindowSpectra,
  bands: readonly Band[],
  { noise, quiet, windowS }: WindowChoice,
): LocationBand[] {
  const whole = meanDensity(spectra, noise);
  const floorDensity = (record.noiseDensityMPerS2PerSqrtHz ?? 0) ** 2 * record.axes.length;
  return bands.map((band) => {
    const powers = noise.map((w) => bandPower(spectra.densities[w]!, band));
    const before = quiet.map((w) => bandPower(spectra.densities[w]!, band));
    const bandwidthHz = statisticalBandwidthHz(whole, band, whole.segments);
    const windowDb = Float64Array.from(powers, levelOfPower);
    const common = { windowDb, floorPower: floorDensity * (band.toHz - band.fromHz) };
    const total = mean(powers);
    const totalSd = meanSd(powers, bandwidthHz, windowS);
    if (quiet.length === 0) {
      return { ...common, power: total, randomDb: (10 * Math.LOG10E * totalSd) / total, atMost: false };
    }
    const rise = total - mean(before);
    const sd = Math.hypot(totalSd, meanSd(before, bandwidthHz, windowS));
    const atMost = !(rise > RISE_SD * sd);
    const power = atMost ? Math.max(rise, 0) + 2 * sd : rise;
    return { ...common, power, randomDb: (10 * Math.LOG10E * sd) / power, atMost };
  });
}

/**
 * Standard deviation of a mean power: from how the windows really scatter, or from statistical bandwidth and time,
 * whichever is larger. The first also sees what is not steady; the second is sure where windows are few.
 */
function meanSd(powers: readonly number[], bandwidthHz: number, windowS: number): number {
  const byTheory = (mean(powers) * randomErrorDb(bandwidthHz, powers.length * windowS)) / (10 * Math.LOG10E);
  return powers.length < 3 ? byTheory : Math.max(byTheory, robustSd(powers) / Math.sqrt(powers.length));
}

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
