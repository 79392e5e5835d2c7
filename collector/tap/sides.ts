import { type RepeatedMode, repeatedModes } from './repeated.ts';
import type { RingDown } from './ring-down.ts';

interface ModePair {
  left: RepeatedMode;
  right: RepeatedMode;
  /** Right minus left. */
  differenceHz: number;
  uncertaintyHz: number;
  frequencyDiffers: boolean;
  dampingDiffers: boolean;
}

export interface SideComparison {
  pairs: ModePair[];
  /** Modes that only one side shows. */
  leftOnly: RepeatedMode[];
  rightOnly: RepeatedMode[];
  sentence: string;
}

/** Modes of two like parts pair up within this share: beyond it they are hardly the same mode. */
const PAIR_SHARE = 0.3;

/**
 * Two like parts, left against right: does one ring otherwise? A lower frequency hints at a loose or cracked part or
 * more mass, more damping at a joint that rubs (common practice, no source); which one it is the tap test cannot say.
 *
 * @param part what both are, in lower case: "shield"
 */
export function compareSides(
  part: string,
  left: readonly RingDown[],
  right: readonly RingDown[],
): SideComparison {
  const [lefts, rights] = [repeatedModes(left), repeatedModes(right)];
  const free = new Set(rights);
  const pairs = lefts.flatMap((one): ModePair[] => {
    const apart = (other: RepeatedMode) => Math.abs(Math.log(other.frequencyHz / one.frequencyHz));
    const nearest = [...free]
      .filter((other) => apart(other) < Math.log(1 + PAIR_SHARE))
      .sort((a, b) => apart(a) - apart(b))[0];
    if (nearest === undefined) return [];
    free.delete(nearest);
    const differenceHz = nearest.frequencyHz - one.frequencyHz;
    const uncertaintyHz = Math.hypot(one.frequencyUncertaintyHz, nearest.frequencyUncertaintyHz);
    const dampingUncertainty = Math.hypot(one.dampingUncertainty, nearest.dampingUncertainty);
    return [
      {
        left: one,
        right: nearest,
        differenceHz,
        uncertaintyHz,
        frequencyDiffers: Math.abs(differenceHz) > uncertaintyHz,
        dampingDiffers: Math.abs(nearest.dampingRatio - one.dampingRatio) > dampingUncertainty,
      },
    ];
  });
  const paired = new Set(pairs.map(({ left: one }) => one));
  return {
    pairs,
    leftOnly: lefts.filter((one) => !paired.has(one)),
    rightOnly: [...free],
    sentence: sentenceOf(part, lefts, rights, pairs),
  };
}

function sentenceOf(
  part: string,
  lefts: readonly RepeatedMode[],
  rights: readonly RepeatedMode[],
  pairs: readonly ModePair[],
): string {
  if (lefts.length === 0 || rights.length === 0) {
    const side = lefts.length === 0 ? 'left' : 'right';
    return `The ${side} ${part} shows no clear ringing: rap again with a harder tip, and check that it hangs free.`;
  }
  const pair = pairs[0];
  if (pair === undefined) {
    return `The left ${part} rings at ${told(lefts[0]!)}, the right one at ${told(rights[0]!)}: no mode of one is near a mode of the other, so they differ in kind or in how they are fixed.`;
  }
  const both = `The left ${part} rings at ${told(pair.left)}, the right one at ${told(pair.right)}`;
  const frequency = pair.frequencyDiffers
    ? `the difference of ${Math.abs(pair.differenceHz).toFixed(1)} Hz is beyond its uncertainty of ${pair.uncertaintyHz.toFixed(1)} Hz`
    : `the difference is within its uncertainty of ${pair.uncertaintyHz.toFixed(1)} Hz`;
  const more = pair.right.dampingRatio > pair.left.dampingRatio ? 'right' : 'left';
  return `${both}: ${frequency}${pair.dampingDiffers ? `, and the ${more} one is more damped` : ''}.`;
}

function told({ frequencyHz, frequencyUncertaintyHz, dampingRatio }: RepeatedMode): string {
  return `${frequencyHz.toFixed(1)} ± ${frequencyUncertaintyHz.toFixed(1)} Hz (damping ${(100 * dampingRatio).toFixed(1)} %)`;
}
