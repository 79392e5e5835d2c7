import type { WavRecording } from '../../collector/index.ts';
import { MAX_CHANNELS } from '../../firmware-protocol/index.ts';
import type { SampleSource } from './sample-source.ts';

/** A recording's channels as so many one-axis sensors; samples become the 16-bit values a node would send. */
export function recordingSource(recording: WavRecording, fullScaleMPerS2: number): SampleSource {
  const channelCount = Math.min(recording.channelCount, MAX_CHANNELS);
  let chunks: AsyncGenerator<Float64Array[]> | null = null;
  return {
    channels: Array.from({ length: channelCount }, (_, sensor) => ({ sensor, axis: 'single' as const })),
    sampleRateHz: recording.sampleRateHz,
    fullScaleMPerS2,
    async next(frameCount) {
      // The first call sets the packet length for the whole recording.
      chunks ??= recording.chunks(frameCount);
      const { value, done } = await chunks.next();
      return done ? null : value.slice(0, channelCount).map(toInt16);
    },
  };
}

function toInt16(samples: Float64Array): Int16Array {
  return Int16Array.from(samples, (value) => Math.max(-32768, Math.min(32767, Math.round(value * 32768))));
}
