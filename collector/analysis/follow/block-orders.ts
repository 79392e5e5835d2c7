import { nextPowerOfTwo, realFft } from '../../dsp/fft.ts';
import { resampleToAngle, type SpeedChannel, speedAt } from '../../dsp/resample.ts';
import { makeWindow } from '../../dsp/window.ts';
import { lineEvidence, runningMedian } from '../background.ts';

/** Orders of one speed over time: one row of evidence per block. */
export interface BlockOrders {
  name: string;
  /** Turns per second in the middle of each block. */
  hz: number[];
  stepOrders: number;
  /** -ln of the chance that noise makes the line, capped, per block and order line. */
  evidence: Float64Array[];
  /** Amplitude of the line, RMS. */
  amplitudeRms: Float64Array[];
}

/** One block must not outvote the others. */
const EVIDENCE_CAP = 10;
/** A spectrum of fewer over a block has no lines to speak of. */
const LEAST_SAMPLES = 16;

/**
 * Spectra over a speed's own angle, block by block. A tone that follows this speed stays on one line through all
 * blocks, however fast the speed changes inside them; any other tone moves from line to line.
 */
export function blockOrders(
  samples: Float64Array,
  sampleRateHz: number,
  channel: SpeedChannel,
  blockS: number,
  highestHz: number,
): BlockOrders {
  const meanHz = meanSpeed(channel, samples.length / sampleRateHz);
  const samplesPerTurn = Math.max(4, (2.56 * highestHz) / meanHz);
  const turned = resampleToAngle(samples, sampleRateHz, channel, samplesPerTurn);
  const bounds = blockBounds(samples.length / sampleRateHz, blockS).map((t) => angleAt(channel, t));
  const longest = Math.max(...bounds.slice(2).map((angle, k) => angle - bounds[k]!), 0) * samplesPerTurn;
  // Twice the length: the grid of orders is the same for all blocks, and finer than their resolution.
  const size = 2 * nextPowerOfTwo(Math.ceil(longest));
  const plan = realFft(size);
  const result: BlockOrders = {
    name: channel.name,
    hz: [],
    stepOrders: samplesPerTurn / size,
    evidence: [],
    amplitudeRms: [],
  };
  for (let k = 0; k + 2 < bounds.length; k++) {
    const first = Math.round(bounds[k]! * samplesPerTurn);
    const last = Math.min(turned.values.length, Math.round(bounds[k + 2]! * samplesPerTurn));
    const count = last - first;
    result.hz.push((bounds[k + 2]! - bounds[k]!) / blockS);
    if (count < LEAST_SAMPLES) {
      // The shaft stands: nothing can be said of it, but block k must stay the same moment over every speed.
      result.evidence.push(new Float64Array(plan.bins));
      result.amplitudeRms.push(new Float64Array(plan.bins));
      continue;
    }
    const block = new Float64Array(size);
    const window = makeWindow('hann', count);
    let mean = 0;
    for (let m = 0; m < count; m++) mean += turned.values[first + m]! / count;
    for (let m = 0; m < count; m++) block[m] = (turned.values[first + m]! - mean) * window.values[m]!;
    const bins = plan.forward(block);
    const power = new Float64Array(plan.bins);
    for (let m = 0; m < power.length; m++) power[m] = bins[2 * m]! ** 2 + bins[2 * m + 1]! ** 2;
    const median = runningMedian(power, Math.max(24, Math.round((24 * size) / count)));
    const toAmplitude = Math.SQRT2 / (count * window.coherentGain);
    result.evidence.push(
      power.map((value, m) => Math.min(EVIDENCE_CAP, lineEvidence((value * Math.LN2) / median[m]!, 1) || 0)),
    );
    result.amplitudeRms.push(power.map((value) => Math.sqrt(value) * toAmplitude));
  }
  return result;
}

/** Times at half-block steps: block k runs from bound k to bound k + 2. */
function blockBounds(seconds: number, blockS: number): number[] {
  const bounds: number[] = [];
  for (let t = 0; t <= seconds + 1e-9; t += blockS / 2) bounds.push(t);
  return bounds;
}

function meanSpeed(channel: SpeedChannel, seconds: number): number {
  return angleAt(channel, seconds) / seconds;
}

/** Turns since time 0: the integral of the speed, which is straight between its times and constant outside. */
function angleAt(channel: SpeedChannel, timeS: number): number {
  const { timeS: times, hz } = channel;
  const points = [0, ...times.filter((t) => t > 0 && t < timeS), timeS];
  let angle = 0;
  let from = speedAt(channel, 0);
  for (let k = 1; k < points.length; k++) {
    const to = speedAt(channel, points[k]!);
    angle += ((from + to) / 2) * (points[k]! - points[k - 1]!);
    from = to;
  }
  return times.length === 1 ? hz[0]! * timeS : angle;
}
