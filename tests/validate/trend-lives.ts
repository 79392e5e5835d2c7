import type { Level } from '../../collector/trend/baseline.ts';
import { gaussian, uniform } from '../../collector/trend/random.ts';
import type { Law } from './trend-laws.ts';

export const DAY_MS = 86_400_000;
const MOST_DAYS = 1500;

/** A part from new to past its limit, as it would be measured. */
export interface Life {
  /** Runs until the limit is reached, ratio to new, with noise. */
  levels: Level[];
  limit: number;
  onsetMs: number;
  /** When the level without noise first reaches the limit; Infinity when it never does. */
  truthMs: number;
}

/**
 * One life by a law. Healthy for 20 to 200 days, limit 6 to 14 dB above new, a run every 1 to 7 days at uneven
 * distances, run scatter 0.3 to 1.5 dB with some likeness to the run before, and one run in fifty wild.
 *
 * @returns null for a life whose wear lasts less than eight days: nothing could be measured
 */
export function makeLife(law: Law, seed: number): Life | null {
  const next = uniform(Math.imul(seed + 1, 2654435761));
  const gauss = gaussian(next);
  const limitDb = 6 + 8 * next();
  const level = law(next, gauss, limitDb);
  const track = Array.from({ length: MOST_DAYS }, (_, day) => level(day));
  const crossing = track.findIndex((value) => value >= limitDb);
  if (crossing >= 0 && crossing < 8) return null;
  const worn = crossing < 0 ? 400 : crossing;
  const healthy = 20 + 180 * next();
  const every = 7 ** next();
  const noiseDb = 0.3 + 1.2 * next();
  const levels: Level[] = [];
  let scatter = gauss();
  for (let day = 0; day < healthy + worn; day += every * (0.5 + next())) {
    scatter = 0.2 * scatter + Math.sqrt(0.96) * gauss();
    const since = Math.max(0, day - healthy);
    const whole = Math.floor(since);
    const truth = day < healthy ? 0 : track[whole]! + (since - whole) * (track[whole + 1]! - track[whole]!);
    const wild = next() < 0.02 ? 5 * gauss() : 0;
    levels.push({ timeMs: day * DAY_MS, value: 10 ** ((truth + noiseDb * scatter + wild) / 20) });
  }
  const truthMs =
    crossing < 0
      ? Number.POSITIVE_INFINITY
      : (healthy + crossing - (track[crossing]! - limitDb) / (track[crossing]! - track[crossing - 1]!)) *
        DAY_MS;
  return { levels, limit: 10 ** (limitDb / 20), onsetMs: healthy * DAY_MS, truthMs };
}
