import type { Span } from '../capture/capture.ts';
import { eachPlace, type OfPlace } from './each-place.ts';
import { type Sound, soundOf, withRunIn } from './sound.ts';
import { cutPlaces, type Source } from './source.ts';

export interface ClipsQuestion {
  source: Source;
  span: Span;
}

/** The same moment at all places of the source, as compact sounds; cut together, for reading is what takes the time. */
export async function renderClips({ source, span }: ClipsQuestion): Promise<OfPlace<Sound>[]> {
  const places = await cutPlaces(source, [withRunIn(span)]);
  return eachPlace(places, (place) => soundOf(place, { span, compact: true }));
}
