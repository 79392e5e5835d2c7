import { createHash } from 'node:crypto';
import type { AxisName } from '../../firmware-protocol/index.ts';
import type { Span } from '../capture/capture.ts';
import { type ExportQuestion, exportRecording } from './export.ts';

export interface RecordingDigest {
  /** Of the WAV file that `export` gives for the same question; lower hexadecimal digits. */
  sha256: string;
  bytes: number;
  sampleRateHz: number;
  axes: AxisName[];
  gaps: Span[];
}

/**
 * What proves that a recording has not been changed since: the samples need not be passed along with the proof.
 *
 * @throws RangeError when nothing was recorded in the span
 */
export async function digestRecording(question: ExportQuestion): Promise<RecordingDigest> {
  const { wav, description } = await exportRecording(question);
  return {
    sha256: createHash('sha256').update(wav).digest('hex'),
    bytes: wav.length,
    sampleRateHz: description.sampleRateHz,
    axes: description.channels.map(({ axis }) => axis),
    gaps: description.gaps,
  };
}
