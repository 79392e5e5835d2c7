import type { Tap } from './tap.ts';

/** One rap, and every sensor that felt it, the strongest first. */
export interface FeltTap {
  /** Grows from tap to tap. */
  id: number;
  /** When the first report of it says it happened, Unix ms. */
  atMs: number;
  felt: Tap[];
  /** The strongest felt at least twice what any other sensor did: it was the one. */
  clear: boolean;
}

/**
 * A rap is felt all over a vehicle, and a second's report says only in which second: reports this close together
 * are one rap. Which board felt it first cannot be told between boards: sound crosses a vehicle in a millisecond,
 * and clocks agree to a few. The strongest tells.
 */
const TOGETHER_MS = 1500;
const MOST_KEPT = 20;
const CLEARLY = 2;

/** The raps known so far (oldest first) with this report added; what did not change keeps its identity. */
export function addTap(raps: readonly FeltTap[], tap: Tap): FeltTap[] {
  const at = raps.findLastIndex((rap) => Math.abs(rap.atMs - tap.atMs) <= TOGETHER_MS);
  const id = (raps.at(-1)?.id ?? 0) + 1;
  if (at < 0) return [...raps, judged({ id, atMs: tap.atMs, felt: [tap], clear: true })].slice(-MOST_KEPT);
  const rap = raps[at]!;
  return raps.with(at, judged({ ...rap, felt: withReport(rap.felt, tap) }));
}

/** One entry for each sensor: the strongest of its reports. */
function withReport(felt: readonly Tap[], tap: Tap): Tap[] {
  const same = felt.find((other) => other.nodeId === tap.nodeId && other.sensor === tap.sensor);
  if (same === undefined) return [...felt, tap];
  return (same.peakMPerS2 ?? 0) >= (tap.peakMPerS2 ?? 0)
    ? [...felt]
    : felt.map((other) => (other === same ? tap : other));
}

function judged(rap: FeltTap): FeltTap {
  const strength = (tap: Tap | undefined) => tap?.peakMPerS2 ?? 0;
  const felt = rap.felt.toSorted((a, b) => strength(b) - strength(a));
  const rival = felt.find((tap) => isOther(tap, felt[0]!));
  return { ...rap, felt, clear: strength(felt[0]) >= CLEARLY * strength(rival) };
}

/** A node that does not say which of its sensors it was may mean the same one. */
function isOther(a: Tap, b: Tap): boolean {
  if (a.nodeId !== b.nodeId) return true;
  return a.sensor !== b.sensor && a.sensor !== null && b.sensor !== null;
}
