import type { ChannelLayout } from '../../firmware-protocol/index.ts';

/** Where a virtual node's samples come from: a generator or a recording. */
export interface SampleSource {
  readonly channels: ChannelLayout[];
  readonly sampleRateHz: number;
  /** Acceleration, in m/s², of a digital value of 32768. */
  readonly fullScaleMPerS2: number;
  /** The next frames, `[channel][frame]`; fewer than asked for at the end, null after it. */
  next(frameCount: number): Promise<Int16Array[] | null> | Int16Array[] | null;
}
