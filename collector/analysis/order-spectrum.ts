import { resampleToAngle, type SpeedChannel } from '../dsp/resample.ts';
import { amplitudeSpectrum } from '../dsp/spectrum.ts';
import type { WindowName } from '../dsp/window.ts';

export interface OrderSpectrum {
  /** Lines per turn: line k is order k x stepOrders. */
  stepOrders: number;
  /** RMS, in the unit of the samples. */
  amplitudeRms: Float64Array;
  /** Turns the record spans. */
  turns: number;
}

/**
 * Spectrum over the turns of a shaft: what follows it is one line, at its order, however its speed changes. The
 * record is sampled anew at equal steps of angle (see `resampleToAngle`), 2.56 times finer than the highest order.
 * @throws RangeError when the speed channel cannot be used, or the shaft does not turn once.
 */
export function orderSpectrum(
  samples: Float64Array,
  sampleRateHz: number,
  speed: SpeedChannel,
  options: { highestOrder: number; window?: WindowName },
): OrderSpectrum {
  const { highestOrder, window = 'hann' } = options;
  if (!(highestOrder > 0)) throw new RangeError(`the highest order must be over 0, got ${highestOrder}`);
  const turned = resampleToAngle(samples, sampleRateHz, speed, Math.max(4, 2.56 * highestOrder));
  if (turned.turns < 1)
    throw new RangeError(`over this record ${speed.name} turns ${turned.turns.toFixed(2)} times: too little`);
  const { stepHz, amplitudeRms } = amplitudeSpectrum(turned.values, turned.samplesPerTurn, { window });
  const count = Math.min(amplitudeRms.length, Math.floor(highestOrder / stepHz) + 1);
  return { stepOrders: stepHz, amplitudeRms: amplitudeRms.subarray(0, count), turns: turned.turns };
}
