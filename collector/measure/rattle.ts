import { kurtosis, type Moments, peak } from '../dsp/moments.ts';
import { createScratch } from '../dsp/scratch.ts';

/**
 * Does the sensor bang in its clamp? A sensor that is held only loosely leaves its seat again and again. Apart from it,
 * nothing of the machine reaches it: it rests at one acceleration, which is what still presses it on (near nothing if it
 * has room to both sides). Then it hits, and each hit gives it a net change of velocity, where a defect of the machine
 * makes a tight sensor ring to and fro about as much. The limits were set on a simulated mass that touches its base
 * through a spring which cannot pull; that a loose clamp rattles is common practice, no source. The samples' moments,
 * where they are known already, spare most of the work.
 */
export type RattleDetector = (samples: Float64Array, moments?: Moments) => boolean;

/** Contacts last a fraction of a millisecond, and what rings higher is smoothed away. */
const SLOTS_PER_S = 2000;
const SHORTEST_S = 0.5;
/** Weaker hits are not told from a coarse number format. */
const WEAKEST_HIT_M_PER_S2 = 3;
const SPIKIEST_TIGHT_KURTOSIS = 6;
/** Share of the time that must be rest, and how narrow its values are against the standard deviation. */
const REST_SHARE = 0.3;
const REST_WIDTH = 0.1;
const SHORTEST_REST_S = 0.001;
/** A hit moves at least so much: seconds times the standard deviation. */
const HIT_S = 0.0012;
const HITS_PER_S = 8;

/** Hits from one side: how uneven, and how much of their area is a net change of velocity. */
const ONE_SIDED = { skewness: 2, reach: 2, netShare: 0.4 };
/** Hits from both sides, between which next to nothing moves the sensor. */
const TWO_SIDED = { restWidth: 0.04, netShare: 0.3 };

export function createRattleDetector(sampleRateHz: number): RattleDetector {
  const samplesPerSlot = Math.max(1, Math.floor(sampleRateHz / SLOTS_PER_S));
  const slotS = samplesPerSlot / sampleRateHz;
  const shortestRest = Math.max(2, Math.round(SHORTEST_REST_S / slotS));
  const slotRoom = createScratch();
  const sortRoom = createScratch();

  return (samples, moments) => {
    if (moments !== undefined && isHarmless(moments, samplesPerSlot)) return false;
    const count = Math.floor(samples.length / samplesPerSlot);
    if (count * slotS < SHORTEST_S) return false;
    const slots = slotRoom(count);
    const { deviation, skewness, spikiness } = fillSlots(slots, samples, samplesPerSlot);
    if (!(spikiness > SPIKIEST_TIGHT_KURTOSIS)) return false;
    const sorted = sortRoom(count);
    sorted.set(slots);
    sorted.sort();
    if (Math.max(-sorted[0]!, sorted[count - 1]!) < WEAKEST_HIT_M_PER_S2) return false;
    const { width, level } = densest(sorted, Math.floor(REST_SHARE * count));
    if (width > REST_WIDTH * deviation) return false;
    const { hits, netShare } = hitsBetweenRests(slots, {
      level,
      width,
      shortestRest,
      least: (HIT_S / slotS) * deviation,
    });
    if (hits < HITS_PER_S * count * slotS) return false;
    if (width < TWO_SIDED.restWidth * deviation && netShare > TWO_SIDED.netShare) return true;
    const [low, high] = [-sorted[Math.floor(0.002 * count)]!, sorted[Math.floor(0.998 * count)]!];
    const reach = skewness > 0 ? high / low : low / high;
    return (
      Math.abs(skewness) > ONE_SIDED.skewness &&
      reach > ONE_SIDED.reach &&
      Math.abs(level) > width &&
      netShare > ONE_SIDED.netShare
    );
  };
}

/** Too weak for hits, or (where each sample is a slot of its own) too even. */
function isHarmless(moments: Moments, samplesPerSlot: number): boolean {
  if ((peak(moments) ?? 0) < WEAKEST_HIT_M_PER_S2) return true;
  return samplesPerSlot === 1 && (kurtosis(moments) ?? 0) <= SPIKIEST_TIGHT_KURTOSIS;
}

/** Share of a record's whole seconds in which the sensor bangs. */
export function rattlingShare(samples: Float64Array, sampleRateHz: number): number {
  const isRattling = createRattleDetector(sampleRateHz);
  const second = Math.round(sampleRateHz);
  const seconds = Math.floor(samples.length / second);
  let rattling = 0;
  for (let k = 0; k < seconds; k++)
    if (isRattling(samples.subarray(k * second, (k + 1) * second))) rattling++;
  return seconds === 0 ? 0 : rattling / seconds;
}

/** Means over slots, about their own mean, and the shape of their distribution. */
function fillSlots(slots: Float64Array, samples: Float64Array, samplesPerSlot: number) {
  const count = slots.length;
  let mean = 0;
  for (let k = 0, at = 0; k < count; k++) {
    let sum = 0;
    for (const end = at + samplesPerSlot; at < end; at++) sum += samples[at]!;
    slots[k] = sum / samplesPerSlot;
    mean += slots[k]!;
  }
  mean /= count;
  let [m2, m3, m4] = [0, 0, 0];
  for (let k = 0; k < count; k++) {
    const value = slots[k]! - mean;
    slots[k] = value;
    const squared = value * value;
    m2 += squared;
    m3 += squared * value;
    m4 += squared * squared;
  }
  const variance = m2 / count;
  return {
    deviation: Math.sqrt(variance),
    skewness: m3 / count / variance ** 1.5,
    spikiness: m4 / count / variance ** 2,
  };
}

/** The shortest interval that holds so many of the sorted values. */
function densest(sorted: Float64Array, many: number): { width: number; level: number } {
  let width = Number.POSITIVE_INFINITY;
  let level = 0;
  for (let k = 0; k + many < sorted.length; k++) {
    const own = sorted[k + many]! - sorted[k]!;
    if (own >= width) continue;
    width = own;
    level = (sorted[k]! + sorted[k + many]!) / 2;
  }
  return { width, level };
}

/** What happens between rests: how often more than `least`, and how much of its area does not cancel. */
function hitsBetweenRests(
  slots: Float64Array,
  {
    level,
    width,
    shortestRest,
    least,
  }: { level: number; width: number; shortestRest: number; least: number },
): { hits: number; netShare: number } {
  let [hits, net, gross] = [0, 0, 0];
  let [ownNet, ownGross] = [0, 0];
  const end = () => {
    net += Math.abs(ownNet);
    gross += ownGross;
    if (ownGross > least) hits++;
    ownNet = 0;
    ownGross = 0;
  };
  for (let k = 0; k < slots.length; ) {
    let restEnd = k;
    while (restEnd < slots.length && Math.abs(slots[restEnd]! - level) <= width) restEnd++;
    if (restEnd - k >= shortestRest) {
      end();
      k = restEnd;
      continue;
    }
    // Too short for a rest: part of the hit, with the value that ends it.
    for (const to = Math.min(slots.length, restEnd + 1); k < to; k++) {
      ownNet += slots[k]! - level;
      ownGross += Math.abs(slots[k]! - level);
    }
  }
  end();
  return { hits, netShare: gross > 0 ? net / gross : 0 };
}
