import { median } from './robust.ts';

/** How far one location has moved from its own baseline, over the same runs as its peers. */
export interface PeerChange {
  id: string;
  changeDb: number;
  /** Standard deviation of that change, dB: spread of its runs. */
  spreadDb: number;
}

interface PeerRank extends PeerChange {
  /** Own change minus the middle of the others' changes: what is left once all have changed alike. */
  beyondPeersDb: number;
}

export interface PeerComparison {
  /** Most changed first. */
  ranks: PeerRank[];
  /** The one that has changed more than its peers; null when none stands apart. */
  standsApart: string | null;
}

/** Lead over the next that counts: as much as a change that means something at all (2 dB), and three spreads. */
const LEAST_LEAD_DB = 2;
const LEAST_LEAD_SD = 3;

/**
 * Which location changed, when all of them saw the same road, load and weather? A change that all share is taken out
 * first. Neighbours pick up part of a failing bearing's vibration, so the leader must lead by a margin, not merely
 * have changed.
 *
 * @throws RangeError below three peers: of two, either may be the one that changed
 */
export function comparePeers(changes: readonly PeerChange[]): PeerComparison {
  if (changes.length < 3) throw new RangeError(`peers are compared from three on, got ${changes.length}`);
  const ranks = changes
    .map((own) => ({
      ...own,
      beyondPeersDb: own.changeDb - median(changes.filter((other) => other !== own).map((o) => o.changeDb)),
    }))
    .sort((a, b) => b.changeDb - a.changeDb);
  const [first, second] = [ranks[0]!, ranks[1]!];
  const lead = first.changeDb - second.changeDb;
  const apart = lead > LEAST_LEAD_DB && lead > LEAST_LEAD_SD * Math.hypot(first.spreadDb, second.spreadDb);
  return { ranks, standsApart: apart ? first.id : null };
}
