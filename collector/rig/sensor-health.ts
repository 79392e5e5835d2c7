import type { Flag, Reading } from '../model.ts';
import { gravityOf } from './gravity.ts';
import type { Vector } from './vector.ts';
import { gather, gathered, noWindows, type Windows } from './windows.ts';

/** How one sensor of a node does. */
export interface SensorHealth {
  sensor: number;
  /** Begin of its newest block, Unix ms. */
  newestMs: number;
  nominalRateHz: number;
  /** As fitted by the station; null before it is known to 0.05 %. */
  trueRateHz: number | null;
  /** Flags of the newest block. */
  flags: Flag[];
  /** Mean acceleration (gravity), smoothed over about ten seconds; null for a single axis or before the first. */
  gravityMPerS2: Vector | null;
  /** Seconds measured within the last 10 to 20 minutes, and how many of them were clipped. */
  recentSeconds: number;
  clippedSeconds: number;
  /** In which it banged in its clamp; absent where it was not counted. */
  rattlingSeconds?: number;
  /** The quietest second of the last 12 to 24 hours: the sensor's own noise is no more than this. */
  quietest: QuietSecond | null;
}

export interface QuietSecond {
  startMs: number;
  /** RMS over the axes of the acceleration RMS, mean removed. */
  accelerationRmsMPerS2: number;
  /** The same as if it were flat noise: RMS / sqrt(sampleRate / 2), µm/s² per √Hz. */
  noiseDensityUmPerS2PerRtHz: number;
}

/** Serialisable. */
export interface SensorState
  extends Omit<SensorHealth, 'recentSeconds' | 'clippedSeconds' | 'rattlingSeconds' | 'quietest'> {
  clipping: Windows<FaultySeconds>;
  quiet: Windows<QuietSecond>;
}

/** The third is absent in a state saved before it was counted. */
type FaultySeconds = [seconds: number, clipped: number, rattling?: number];

const CLIPPING_WINDOW_MS = 600_000;
const QUIET_WINDOW_MS = 12 * 3_600_000;
/** Weight of a new second in the smoothed mean. */
const SMOOTHING = 0.15;
/** With these the level of a second is not the sensor's. */
const NOT_A_LEVEL: readonly Flag[] = ['clipped', 'gap', 'unknown-scale', 'stuck', 'rattle'];

export function newSensor(sensor: number): SensorState {
  return {
    sensor,
    newestMs: 0,
    nominalRateHz: 0,
    trueRateHz: null,
    flags: [],
    gravityMPerS2: null,
    clipping: noWindows(),
    quiet: noWindows(),
  };
}

export function noteReading(
  state: SensorState,
  reading: Reading,
  rate: { nominalRateHz: number; known: boolean },
): void {
  const { startMs, flags } = reading;
  gather<FaultySeconds>(state.clipping, startMs, CLIPPING_WINDOW_MS, (before) => [
    (before?.[0] ?? 0) + 1,
    (before?.[1] ?? 0) + (flags.includes('clipped') ? 1 : 0),
    (before?.[2] ?? 0) + (flags.includes('rattle') ? 1 : 0),
  ]);
  const quiet = quietSecond(reading);
  if (quiet !== null) {
    gather(state.quiet, startMs, QUIET_WINDOW_MS, (before) =>
      before !== null && before.accelerationRmsMPerS2 <= quiet.accelerationRmsMPerS2 ? before : quiet,
    );
  }
  if (startMs < state.newestMs) return;
  state.newestMs = startMs;
  state.nominalRateHz = rate.nominalRateHz;
  state.trueRateHz = rate.known ? reading.sampleRateHz : null;
  state.flags = flags;
  const mean = gravityOf(reading);
  if (mean === null) return;
  const before = state.gravityMPerS2 ?? mean;
  state.gravityMPerS2 = before.map((value, i) => value + SMOOTHING * (mean[i]! - value)) as unknown as Vector;
}

function quietSecond({ axes, flags, startMs, sampleRateHz }: Reading): QuietSecond | null {
  if (axes.length === 0 || flags.some((flag) => NOT_A_LEVEL.includes(flag))) return null;
  let squares = 0;
  for (const { accelerationRmsMPerS2 } of axes) {
    if (accelerationRmsMPerS2 === null) return null;
    squares += accelerationRmsMPerS2 ** 2;
  }
  const rms = Math.sqrt(squares / axes.length);
  return {
    startMs,
    accelerationRmsMPerS2: rms,
    noiseDensityUmPerS2PerRtHz: (1e6 * rms) / Math.sqrt(sampleRateHz / 2),
  };
}

export function sensorHealth({ clipping, quiet, ...rest }: SensorState): SensorHealth {
  const parts = gathered(clipping);
  const quietest = gathered(quiet).reduce<QuietSecond | null>(
    (least, one) =>
      least !== null && least.accelerationRmsMPerS2 <= one.accelerationRmsMPerS2 ? least : one,
    null,
  );
  return {
    ...rest,
    recentSeconds: parts.reduce((sum, [seconds]) => sum + seconds, 0),
    clippedSeconds: parts.reduce((sum, [, clipped]) => sum + clipped, 0),
    rattlingSeconds: parts.reduce((sum, [, , rattling = 0]) => sum + rattling, 0),
    quietest,
  };
}
