import { toMmPerS } from '../dsp/units.ts';
import { createVelocityFilter, designVelocity, VELOCITY_CHUNK } from '../dsp/velocity.ts';

/** Velocity RMS of a channel, block by block. */
export interface VelocityMeter {
  /** `acceleration` in m/s². */
  feed(acceleration: Float64Array): void;
  /** mm/s since the last call; null when a sample of it came before the filter settled, or when there was none. */
  takeRmsMmPerS(): number | null;
  reset(): void;
}

/**
 * The filter starts from the mean of this share of the settling time, so that gravity is no step to it. These
 * first samples are kept back until then.
 */
const PRIMING_SHARE = 0.1;

export function createVelocityMeter(sampleRateHz: number, bandHz: [number, number]): VelocityMeter {
  const design = designVelocity(sampleRateHz, bandHz);
  const filter = createVelocityFilter(design);
  const priming = new Float64Array(Math.ceil(design.settlingSamples * PRIMING_SHARE));
  let primed = 0;
  let offset = 0;
  /** Samples still to come before the filter has settled. */
  let unsettled = design.settlingSamples;

  let count = 0;
  let blockUnsettled = false;
  let squares = 0;

  function runFilter(samples: Float64Array, from: number): void {
    for (let start = from; start < samples.length; start += VELOCITY_CHUNK) {
      const velocity = filter.run(samples, start, Math.min(start + VELOCITY_CHUNK, samples.length), offset);
      const skipped = Math.min(unsettled, velocity.length);
      unsettled -= skipped;
      let sum = squares;
      for (let i = skipped; i < velocity.length; i++) sum += velocity[i]! * velocity[i]!;
      squares = sum;
    }
  }

  function prime(samples: Float64Array): number {
    const taken = Math.min(priming.length - primed, samples.length);
    priming.set(samples.subarray(0, taken), primed);
    primed += taken;
    if (primed === priming.length) {
      offset = priming.reduce((sum, value) => sum + value, 0) / priming.length;
      runFilter(priming, 0);
    }
    return taken;
  }

  function clearBlock(): void {
    count = 0;
    blockUnsettled = false;
    squares = 0;
  }

  return {
    feed(acceleration) {
      count += acceleration.length;
      if (unsettled > 0) blockUnsettled = true;
      const taken = primed < priming.length ? prime(acceleration) : 0;
      if (primed === priming.length) runFilter(acceleration, taken);
    },
    takeRmsMmPerS() {
      const value = count > 0 && !blockUnsettled ? toMmPerS(Math.sqrt(squares / count)) : null;
      clearBlock();
      filter.flushDenormals();
      return value;
    },
    reset() {
      filter.reset();
      primed = 0;
      unsettled = design.settlingSamples;
      clearBlock();
    },
  };
}
