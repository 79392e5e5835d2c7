import { type BandLead, type Lead, leadOver } from './lead.ts';

export interface PairLead extends Lead {
  locationId: string;
  againstId: string;
}

/** What one kind of evidence says by itself. */
export interface Witness {
  /** The location that leads all others, or null where none does for certain. */
  leaderId: string | null;
  /** The location with the highest mean, certain or not. */
  foremostId: string;
  /** Lead of the foremost over each other location. */
  pairs: PairLead[];
}

/**
 * Which location leads all the others over all bands?
 *
 * @param leadsOf leads of location i over location j, one per band
 * @param toleranceDb standard deviation of the difference of two locations by their sensors' tolerance
 */
export function witness(
  ids: readonly string[],
  leadsOf: (i: number, j: number) => BandLead[],
  toleranceDb: (i: number, j: number) => number,
): Witness | null {
  const all = ids.map((_, i) => ids.map((_, j) => (i === j ? [] : leadsOf(i, j))));
  if (all.every((row) => row.every((leads) => leads.length === 0))) return null;
  const pair = (i: number, j: number): Lead => leadOver(all[i]![j]!, toleranceDb(i, j));
  // By its weakest mean lead: the one that no other location is ahead of.
  const weakest = ids.map((_, i) =>
    Math.min(...ids.map((_, j) => (i === j || all[i]![j]!.length === 0 ? Infinity : pair(i, j).db))),
  );
  const foremost = weakest.indexOf(Math.max(...weakest.filter(Number.isFinite)));
  const pairs = ids.flatMap((againstId, j): PairLead[] =>
    j === foremost || all[foremost]![j]!.length === 0
      ? []
      : [{ ...pair(foremost, j), locationId: ids[foremost]!, againstId }],
  );
  return {
    leaderId: pairs.length === ids.length - 1 && pairs.every(({ holds }) => holds) ? ids[foremost]! : null,
    foremostId: ids[foremost]!,
    pairs,
  };
}
