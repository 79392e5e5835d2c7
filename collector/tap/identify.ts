import { findRaps } from './impulse.ts';

/** The same moment at one sensor. */
export interface SensorBlock {
  sensorId: string;
  /** Event time of the first sample, Unix milliseconds. */
  startMs: number;
  /** Largest error of `startMs`; null where the node has not exchanged time. */
  timeUncertaintyMs: number | null;
  sampleRateHz: number;
  /** One array per axis, m/s². */
  axes: Float64Array[];
}

export interface Felt {
  sensorId: string;
  /** Greatest excursion of the rap, m/s², strongest axis; 0 where nothing was felt. */
  peakMPerS2: number;
  /** When it arrived, Unix milliseconds; null where nothing was felt. */
  atMs: number | null;
}

export interface Identification {
  /** The sensor that was tapped, or null. */
  sensorId: string | null;
  reason: string;
  /** Strongest first. */
  felt: Felt[];
}

/** A tap on the sensor itself is felt this much more strongly there than anywhere else (common practice, no source). */
const LEAD = 2;
/** No tap by hand is weaker at the sensor itself. */
const LEAST_M_PER_S2 = 0.5;

/**
 * Which sensor was tapped? The one that felt by far the strongest impulse, and not later than the others as far as the
 * clocks can tell. For finding out which board is which; give blocks of the same second or two.
 */
export function whichSensorFelt(blocks: readonly SensorBlock[]): Identification {
  const felt = blocks.map(strongestRap).sort((a, b) => b.peakMPerS2 - a.peakMPerS2);
  const [first, second] = felt;
  if (first === undefined || first.atMs === null) {
    return {
      sensorId: null,
      reason: 'no sensor felt a tap; tap the clamp itself, firmly, with a knuckle or a wooden handle',
      felt,
    };
  }
  const name = (sensorId: string) => blocks.find((block) => block.sensorId === sensorId)!;
  if (second !== undefined && second.peakMPerS2 * LEAD > first.peakMPerS2) {
    return {
      sensorId: null,
      reason: `${first.sensorId} and ${second.sensorId} felt it about alike (${first.peakMPerS2.toFixed(1)} and ${second.peakMPerS2.toFixed(1)} m/s²); tap the clamp, not the part`,
      felt,
    };
  }
  const earlier = felt.slice(1).find((other) => {
    if (other.atMs === null) return false;
    const [a, b] = [name(first.sensorId).timeUncertaintyMs, name(other.sensorId).timeUncertaintyMs];
    // Without a clock, order in time says nothing; size alone decides.
    return a !== null && b !== null && first.atMs! - other.atMs > a + b + 5;
  });
  if (earlier !== undefined) {
    return {
      sensorId: null,
      reason: `${first.sensorId} felt most, but ${earlier.sensorId} felt it first by more than the clocks' error; there may have been two taps: try again`,
      felt,
    };
  }
  return { sensorId: first.sensorId, reason: `${first.sensorId} felt it first and most`, felt };
}

function strongestRap({ sensorId, startMs, sampleRateHz, axes }: SensorBlock): Felt {
  let best: Felt = { sensorId, peakMPerS2: 0, atMs: null };
  for (const samples of axes) {
    for (const { peak, onset } of findRaps(samples, sampleRateHz)) {
      if (peak < LEAST_M_PER_S2 || peak <= best.peakMPerS2) continue;
      best = { sensorId, peakMPerS2: peak, atMs: startMs + (1000 * onset) / sampleRateHz };
    }
  }
  return best;
}
