import { createHash } from 'node:crypto';
import { CaptureError } from '../capture/capture.ts';
import { eachPlace, type OfPlace } from './each-place.ts';
import { type ExportQuestion, recordingOf } from './export.ts';
import { cutPlaces, onlyPlaces, type Place, placeIds } from './source.ts';

export interface RecordingDigest {
  /** Of the WAV file that `export` gives for the same place and span; lower hexadecimal digits. */
  sha256: string;
  bytes: number;
  sampleRateHz: number;
}

/**
 * What proves that recordings have not been changed since: the samples need not be passed along with the proof. All places
 * of the source, cut together as far as memory allows.
 */
export async function digestRecordings({
  source,
  span,
}: ExportQuestion): Promise<OfPlace<RecordingDigest>[]> {
  const ids = placeIds(source);
  try {
    return eachPlace(await cutPlaces(source, [span]), digestOf);
  } catch (error) {
    if (!(error instanceof CaptureError) || ids.length < 2) throw error;
  }
  const found: OfPlace<RecordingDigest>[] = [];
  for (const locationId of ids) {
    try {
      found.push(...eachPlace(await cutPlaces(onlyPlaces(source, [locationId]), [span]), digestOf));
    } catch (error) {
      if (!(error instanceof CaptureError)) throw error;
      found.push({ locationId, missing: error.message });
    }
  }
  return found;
}

function digestOf(place: Place): RecordingDigest {
  const { wav, description } = recordingOf(place);
  const sha256 = createHash('sha256').update(wav).digest('hex');
  return { sha256, bytes: wav.length, sampleRateHz: description.sampleRateHz };
}
