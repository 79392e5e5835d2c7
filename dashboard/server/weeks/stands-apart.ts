import { trend } from '../../../collector/index.ts';
import type { LocationTrend, Trends } from '../../contract/weeks.ts';
import { nowOf } from './sentences.ts';
import { level } from './words.ts';

/** Which of several locations changed, beyond what all of them share; null below three with a baseline. */
export function whichStandsApart(trends: readonly LocationTrend[]): Trends['apart'] {
  const changes = trends.flatMap((one) => {
    const now = nowOf(one);
    if (!one.baseline.known || now === null) return [];
    const changeDb = trend.levelDb(now, one.baseline.median);
    return [{ id: String(one.locationId), changeDb, spreadDb: one.baseline.spreadDb }];
  });
  if (changes.length < 3) return null;
  const { ranks, standsApart } = trend.comparePeers(changes);
  const named = trends.find(({ locationId }) => String(locationId) === standsApart);
  const first = ranks[0]!;
  return {
    locationId: named?.locationId ?? null,
    ranks: ranks.map(({ id, changeDb, beyondPeersDb }) => ({
      locationId: Number(id),
      changeDb,
      beyondPeersDb,
    })),
    sentence:
      named === undefined
        ? `Of the ${ranks.length} shown, none has changed clearly more than the others.`
        : `Of the ${ranks.length} shown, ${named.location} of ${named.assetName} has changed most: ` +
          `${level(first.beyondPeersDb)} dB more than the middle of the others.`,
  };
}
