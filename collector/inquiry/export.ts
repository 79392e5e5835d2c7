import type { AxisName } from '../../firmware-protocol/index.ts';
import type { CaptureStretch, Span } from '../capture/capture.ts';
import { cutPlaces, type Place, type Source } from './source.ts';
import { floatWavBytes, wavBytes } from './wav-bytes.ts';

export interface ExportQuestion {
  /** Holds one place. */
  source: Source;
  span: Span;
}

/** What the WAV file cannot say, for the JSON file beside it. */
export interface RecordingDescription {
  format: 'clampline-recording';
  version: 1;
  /** Event time of the first sample, Unix ms. */
  startMs: number;
  /** True rate; the WAV file holds it rounded to whole samples per second. */
  sampleRateHz: number;
  fullScale: number;
  unit: 'm/s2';
  channels: { channel: number; name: string; axis: AxisName; board: string }[];
  /** Parts without samples, zeros in the file: Unix ms. */
  gaps: Span[];
}

export interface ExportedRecording {
  wav: Uint8Array;
  description: RecordingDescription;
}

/**
 * The samples of one location as they were taken, all axes, gaps filled with zeros and stated.
 *
 * @throws RangeError when nothing was recorded in the span
 */
export async function exportRecording({ source, span }: ExportQuestion): Promise<ExportedRecording> {
  const [place] = await cutPlaces(source, [span]);
  return recordingOf(place);
}

/** @throws RangeError when nothing was recorded there */
export function recordingOf(place: Place | undefined): ExportedRecording {
  const first = place?.stretches[0];
  if (place === undefined || first === undefined)
    throw new RangeError('no samples were recorded in this span');
  const { sampleRateHz, axes, board, startMs } = first;
  const alike = place.stretches.filter((one) => one.axes.join() === axes.join());
  const fullScale = Math.max(
    ...alike.map(({ fullScaleMPerS2, samples }) => largest(samples, fullScaleMPerS2)),
  );
  const end = alike.at(-1)!;
  const indexOf = (ms: number) => Math.round(((ms - startMs) / 1000) * sampleRateHz);
  const channels = axes.map(() => new Int16Array(indexOf(end.startMs) + end.samples[0]!.length));
  for (const stretch of alike) {
    const scale = fullScale > 0 ? (stretch.fullScaleMPerS2 || 32768) / fullScale : 1;
    for (const [i, samples] of stretch.samples.entries()) {
      const at = indexOf(stretch.startMs);
      const room = Math.min(samples.length, channels[i]!.length - at);
      for (let k = 0; k < room; k++) channels[i]![at + k] = Math.round(samples[k]! * scale);
    }
  }
  return {
    wav: wavBytes(channels, sampleRateHz),
    description: {
      format: 'clampline-recording',
      version: 1,
      startMs,
      sampleRateHz,
      fullScale,
      unit: 'm/s2',
      channels: axes.map((axis, channel) => ({ channel, name: place.name, axis, board })),
      gaps: place.gaps,
    },
  };
}

/** One stretch without a hole, as it was sampled: what is made of it elsewhere is the same to the bit. */
export interface RecordedStretch extends Omit<CaptureStretch, 'samples'> {
  board: string;
  frames: number;
  wav: Uint8Array;
}

/** The samples of one location in a span, stretch by stretch; none when nothing was recorded. */
export async function recordedStretches({ source, span }: ExportQuestion): Promise<RecordedStretch[]> {
  const [place] = await cutPlaces(source, [span]);
  return (place?.stretches ?? []).map(({ samples, ...stretch }) => ({
    ...stretch,
    frames: samples[0]!.length,
    wav: samples.every((axis) => axis instanceof Int16Array)
      ? wavBytes(samples, stretch.sampleRateHz)
      : floatWavBytes(
          samples.map((axis) => Float64Array.from(axis, (value) => value / 32768)),
          stretch.sampleRateHz,
        ),
  }));
}

/** Full scale for 16 bits: the node's own, or the largest value of floats. */
function largest(samples: readonly ArrayLike<number>[], fullScaleMPerS2: number): number {
  if (samples[0] instanceof Int16Array) return fullScaleMPerS2;
  let most = 0;
  for (const axis of samples) for (let i = 0; i < axis.length; i++) most = Math.max(most, Math.abs(axis[i]!));
  return ((most * fullScaleMPerS2) / 32768) * (32768 / 32767) || fullScaleMPerS2;
}
