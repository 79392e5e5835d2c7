/** The small JSON file beside a WAV file: what the WAV file cannot say. The station writes the same when it gives one out. */
import type { ImportRequest } from '../../contract/runs.ts';

type Axis = ImportRequest['channels'][number]['axis'];

export interface RecordingDescription {
  /** Unix ms of the first sample. */
  startMs?: number;
  /** True rate; a WAV file holds whole samples per second. */
  sampleRateHz?: number;
  /** Acceleration at digital full scale. */
  fullScale?: number;
  unit?: 'g' | 'm/s2';
  /** `channel` counts from 0; `name` is the location's. */
  channels: { channel: number; name: string; axis: Axis }[];
  /** Where the noise is, seconds from the first sample. */
  marks: { fromS: number; toS: number }[];
}

const AXES: readonly string[] = ['single', 'x', 'y', 'z'];

/** Throws with words for a person where the text is no such description. Fields that are not known are left aside. */
export function readDescription(text: string): RecordingDescription {
  let read: unknown;
  try {
    read = JSON.parse(text);
  } catch {
    throw new Error('The description is not JSON.');
  }
  if (typeof read !== 'object' || read === null || Array.isArray(read))
    throw new Error('The description must be a JSON object, such as { "fullScale": 16, "unit": "g" }.');
  const fields = read as Record<string, unknown>;
  const over0 = (name: string) => {
    const value = fields[name];
    if (value === undefined) return {};
    if (typeof value !== 'number' || !(value > 0))
      throw new Error(`"${name}" of the description must be a number over 0.`);
    return { [name]: value };
  };
  const { unit } = fields;
  if (unit !== undefined && unit !== 'g' && unit !== 'm/s2')
    throw new Error('"unit" of the description must be "g" or "m/s2".');
  return {
    ...over0('startMs'),
    ...over0('sampleRateHz'),
    ...over0('fullScale'),
    ...(unit === undefined ? {} : { unit }),
    channels: list(fields['channels']).map((one, i) => {
      const { channel = i, name = '', axis = 'single' } = one;
      if (!Number.isInteger(channel) || typeof name !== 'string' || !AXES.includes(String(axis)))
        throw new Error(
          `Channel ${i + 1} of the description: give "channel", "name" and "axis" (single, x, y, z).`,
        );
      return { channel: channel as number, name, axis: axis as Axis };
    }),
    marks: list(fields['marks']).map(({ fromS, toS }, i) => {
      if (typeof fromS !== 'number' || typeof toS !== 'number' || !(fromS >= 0 && toS >= fromS))
        throw new Error(
          `Mark ${i + 1} of the description: give "fromS" and "toS" in seconds from the start.`,
        );
      return { fromS, toS };
    }),
  };
}

function list(value: unknown): Record<string, unknown>[] {
  if (value === undefined) return [];
  if (!Array.isArray(value) || value.some((one) => typeof one !== 'object' || one === null))
    throw new Error('"channels" and "marks" of the description are lists of objects.');
  return value as Record<string, unknown>[];
}

interface Place {
  id: number;
  name: string;
  component: string;
}

/** Which location a name means: "Pinion bearing", "Rear axle: pinion bearing" or "pinion bearing of the rear axle". */
export function placeNamed(name: string, places: readonly Place[]): number | null {
  const plain = (text: string) => text.trim().toLowerCase();
  const wanted = plain(name);
  const found = places.filter((place) => {
    const [own, part] = [plain(place.name), plain(place.component)];
    return [own, `${part}: ${own}`, `${own} of the ${part}`].includes(wanted);
  });
  return found.length === 1 ? found[0]!.id : null;
}
