import { FACES, type Face, faceOf, type StillPosition } from './gravity-check.ts';
import { angleDeg, type Vector } from './vector.ts';

/** Where a guided gravity check stands. Plain data. */
export interface CheckProgress {
  positions: StillPosition[];
  /** Means of the last seconds that agree with each other. */
  still: Vector[];
}

/** A position counts after so many seconds without movement, and gets better up to so many. */
export const HOLD_SECONDS = 4;
const MOST_SECONDS = 20;
const MOST_SLANTS = 6;
/** Means of seconds differ by less when nothing moves (sensor noise averages out; common practice, no source). */
const STILL_WITHIN_M_PER_S2 = 0.08;
/** A slant this close to one held before tells nothing new. */
const NEW_BEYOND_DEG = 15;

export function beginCheck(): CheckProgress {
  return { positions: [], still: [] };
}

/** The progress after another second; null is a second without a true mean. */
export function takeSecond(progress: CheckProgress, mean: Vector | null): CheckProgress {
  if (mean === null) return { ...progress, still: [] };
  const agrees = progress.still.every((one) =>
    one.every((value, i) => Math.abs(value - mean[i]!) <= STILL_WITHIN_M_PER_S2),
  );
  const still = agrees ? [...progress.still, mean].slice(-MOST_SECONDS) : [mean];
  if (still.length < HOLD_SECONDS) return { ...progress, still };
  // The first second may hold the end of the movement.
  const held = still.slice(1);
  const average = [0, 1, 2].map((i) => held.reduce((sum, one) => sum + one[i]!, 0) / held.length);
  const position = positionOf(average as unknown as Vector, held.length);
  return {
    still,
    positions: position === null ? progress.positions : withPosition(progress.positions, position),
  };
}

function positionOf(meanMPerS2: Vector, seconds: number): StillPosition | null {
  const face = faceOf(meanMPerS2);
  return face === null ? null : { face: face === 'slanted' ? null : face, meanMPerS2, seconds };
}

/** The newest hold of a face replaces an earlier one; slants are gathered while they differ. */
function withPosition(positions: readonly StillPosition[], position: StillPosition): StillPosition[] {
  if (position.face !== null) return [...positions.filter(({ face }) => face !== position.face), position];
  const near = positions.find(
    ({ face, meanMPerS2 }) => face === null && angleDeg(meanMPerS2, position.meanMPerS2) < NEW_BEYOND_DEG,
  );
  const others = positions.filter((one) => one !== near);
  const slants = others.filter(({ face }) => face === null).length;
  return slants >= MOST_SLANTS ? [...positions] : [...others, position];
}

export function missingFaces({ positions }: CheckProgress): Face[] {
  return FACES.filter((face) => !positions.some((position) => position.face === face));
}
