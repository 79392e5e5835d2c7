import type { Band } from './bands.ts';
import { coherence } from './coherence.ts';
import { comodulation } from './comodulation.ts';
import type { LocationRecord } from './question.ts';
import type { Connection } from './result.ts';

/** Half the power of one explains half the power of the other: from here on we say "shows the same". */
const SHARED = 0.5;

/** How each pair of locations hangs together in the bands of the noise. */
export function connections(
  locations: readonly LocationRecord[],
  bands: readonly Band[],
  relevant: readonly number[],
  windows: readonly number[],
  windowS: number,
): Connection[] {
  return locations.flatMap((first, i) =>
    locations.slice(i + 1).map((second): Connection => {
      const ids = { firstId: first.id, secondId: second.id };
      if (first.board === second.board && first.sampleRateHz === second.sampleRateHz) {
        const { byBand, chanceLimit } = coherence(first, second, bands, windows, windowS);
        const mean = relevant.reduce((sum, b) => sum + byBand[b]!, 0) / relevant.length;
        return {
          ...ids,
          coherence: { byBand, mean, chanceLimit },
          comodulation: null,
          kind: kindOf(mean, chanceLimit),
        };
      }
      const span = { fromHz: bands[relevant[0]!]!.fromHz, toHz: bands[relevant.at(-1)!]!.toHz };
      const together = comodulation(first, second, span, windows, windowS);
      // A steady noise has no ups and downs to compare: no correlation then means nothing.
      const kind = together?.significant
        ? together.correlation ** 2 >= SHARED
          ? 'shared'
          : 'partly'
        : 'unknown';
      return { ...ids, coherence: null, comodulation: together, kind };
    }),
  );
}

/** What a coherence says. */
export function kindOf(coherence: number, chanceLimit: number): 'shared' | 'partly' | 'separate' {
  return coherence >= SHARED ? 'shared' : coherence > chanceLimit ? 'partly' : 'separate';
}

/** The connection of two locations, in either order. */
export function connectionOf(
  connections: readonly Connection[],
  a: string,
  b: string,
): Connection | undefined {
  return connections.find(
    ({ firstId, secondId }) => (firstId === a && secondId === b) || (firstId === b && secondId === a),
  );
}
