import type { GrowthMember } from './growth-members.ts';
import { onShape } from './growth-shape.ts';
import { gaussian, type Random } from './random.ts';

const PATHS = 1500;
const STEPS = 60;
/**
 * How often per window wear turns faster without a sign before it (a cage breaks, grease is gone): the slope then
 * becomes the mean speed of the rise so far or more. The rate was chosen on simulated lives.
 */
const TURNS_PER_WINDOW = 0.6;
/** Logarithm of how much faster: absolute value of a Gaussian of this standard deviation. */
const TURN_SIZE = 1;
/** Largest wander of the logarithm of the slope over one window. */
const MOST_SLOPE_WANDER = 1.5;

/**
 * When do possible futures first reach the limit? Each path takes a member by its weight, a level and slope from what
 * is known of them, and goes on: the level wanders, the slope wanders by factors (wear does not turn back by itself).
 *
 * @param horizon windows ahead
 * @returns windows from the last run, in rising order; Infinity for paths that stay below
 */
export function firstPassages(
  members: readonly GrowthMember[],
  limitDb: number,
  horizon: number,
  next: Random,
): Float64Array {
  const gauss = gaussian(next);
  const out = new Float64Array(PATHS);
  let member = 0;
  let sum = members[0]!.weight;
  for (let path = 0; path < PATHS; path++) {
    // Systematic sampling: each member gets its share of the paths to within one.
    while ((path + 0.5) / PATHS > sum && member < members.length - 1) sum += members[++member]!.weight;
    out[path] = passage(members[member]!, onShape(limitDb, members[member]!.shape), horizon, next, gauss);
  }
  return out.sort();
}

function passage(member: GrowthMember, limit: number, horizon: number, next: Random, gauss: Random): number {
  const { state, wander, riseSpeed } = member;
  const levelSd = Math.sqrt(Math.max(0, state.pLevel));
  const chance = gauss();
  const tied = levelSd > 0 ? state.pCross / levelSd : 0;
  let level = state.level + levelSd * chance;
  let slope = state.slope + tied * chance + Math.sqrt(Math.max(0, state.pSlope - tied * tied)) * gauss();
  if (level >= limit) return 0;
  const slopeWander = Math.min(MOST_SLOPE_WANDER, Math.sqrt(wander.slope) / Math.max(1e-9, Math.abs(slope)));
  let at = 0;
  for (let step = 1; step <= STEPS; step++) {
    // Steps grow with distance: near dates need fine ones.
    const dt = (horizon * (2 * step - 1)) / (STEPS * STEPS);
    if (next() < 1 - Math.exp(-TURNS_PER_WINDOW * dt)) {
      slope = Math.max(slope, riseSpeed) * Math.exp(TURN_SIZE * Math.abs(gauss()));
    }
    const reached = level + slope * dt + Math.sqrt(wander.level * dt) * gauss();
    if (reached >= limit) return at + (dt * (limit - level)) / (reached - level);
    slope *= Math.exp(slopeWander * Math.sqrt(dt) * gauss());
    level = reached;
    at += dt;
  }
  return Number.POSITIVE_INFINITY;
}
