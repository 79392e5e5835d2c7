/** Seconds of two runs in which the drive was alike. Pure. */
import { type Condition, valueAt } from './seconds.ts';

/** What must be alike, and how far two values may be apart: a share of the larger, or this much in its own unit. */
const ALIKE: readonly { quantity: string; share: number; atLeast: number }[] = [
  { quantity: 'gear', share: 0, atLeast: 0 },
  { quantity: 'roadSpeedKmH', share: 0.1, atLeast: 3 },
  { quantity: 'engineSpeedRpm', share: 0.1, atLeast: 100 },
  { quantity: 'engineLoadPercent', share: 0, atLeast: 20 },
];

export interface AlikeSeconds {
  /** As many of the one as of the other; second k of both was driven alike. */
  own: number[];
  peer: number[];
  /** Quantities that both runs told. */
  compared: string[];
}

/**
 * Each own second with one of the peer's, as near to it as there is one; seconds without such a partner are left out, so
 * that both sides hold the same drive. Where no quantity was told by both, all seconds are alike as far as is known.
 */
export function alikeSeconds(
  own: { seconds: readonly number[]; conditions: readonly Condition[] },
  peer: { seconds: readonly number[]; conditions: readonly Condition[] },
): AlikeSeconds {
  const compared = ALIKE.flatMap((rule) => {
    const series = [own, peer].map(({ conditions }) =>
      conditions.find(({ quantity, value }) => quantity === rule.quantity && value.length > 0),
    );
    return series[0] === undefined || series[1] === undefined
      ? []
      : [{ ...rule, own: series[0], peer: series[1] }];
  });
  const quantities = compared.map(({ quantity }) => quantity);
  if (compared.length === 0) return { own: [...own.seconds], peer: [...peer.seconds], compared: quantities };
  const free = new Map(peer.seconds.map((s) => [s, compared.map((rule) => valueAt(rule.peer, s))]));
  const pairs: AlikeSeconds = { own: [], peer: [], compared: quantities };
  for (const second of own.seconds) {
    const values = compared.map((rule) => valueAt(rule.own, second));
    let best: { second: number; apart: number } | null = null;
    for (const [candidate, others] of free) {
      const apart = apartness(compared, values, others);
      if (apart !== null && (best === null || apart < best.apart)) best = { second: candidate, apart };
    }
    if (best === null) continue;
    free.delete(best.second);
    pairs.own.push(second);
    pairs.peer.push(best.second);
  }
  pairs.own.sort((a, b) => a - b);
  pairs.peer.sort((a, b) => a - b);
  return pairs;
}

/** Sum of squares of the distances, each in units of what is allowed; null where one is more than allowed or not known. */
function apartness(
  rules: readonly { share: number; atLeast: number }[],
  a: readonly (number | null)[],
  b: readonly (number | null)[],
): number | null {
  let sum = 0;
  for (const [i, { share, atLeast }] of rules.entries()) {
    const [one, other] = [a[i]!, b[i]!];
    if (one === null || other === null) return null;
    const allowed = Math.max(atLeast, share * Math.max(Math.abs(one), Math.abs(other)));
    const distance = Math.abs(one - other);
    if (distance > allowed) return null;
    if (allowed > 0) sum += (distance / allowed) ** 2;
  }
  return sum;
}
