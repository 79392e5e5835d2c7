import type { Place } from './source.ts';

/** What one place answers, or why it cannot. */
export type OfPlace<Answer> = { locationId: number } & ({ answer: Answer } | { missing: string });

/** The same question to each place: one that cannot answer does not keep the others from it. */
export function eachPlace<Answer>(
  places: readonly Place[],
  ask: (place: Place) => Answer,
): OfPlace<Answer>[] {
  return places.map((place) => {
    const { locationId } = place;
    try {
      return { locationId, answer: ask(place) };
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
      return { locationId, missing: error.message };
    }
  });
}
