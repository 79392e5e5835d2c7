/**
 * Synthetic lives of a part: level against time from new to past its limit, by wear laws of very different shape.
 */
import { gaussian, type Random, uniform } from '../../collector/trend/random.ts';

export interface Life {
  /** Days. */
  timeDays: number[];
  /** Measured run levels, ratio to new. */
  value: number[];
  limit: number;
  /** Day on which the level without measuring noise first reaches the limit. */
  truthDays: number;
  onsetDays: number;
}

/** Noise-free level (dB above new) at each day; onset at day 0. */
type Law = (next: Random, gauss: Random, limitDb: number) => number[];
const DAYS = 1500;
const db = (v: number) => 20 * Math.log10(v);
const track = (f: (t: number) => number) => Array.from({ length: DAYS }, (_, t) => Math.min(80, f(t)));

export const LAWS: Record<string, Law> = {
  linear: (next, _g, limitDb) => {
    const life = 60 + 240 * next();
    const end = 10 ** (limitDb / 20) - 1;
    return track((t) => db(1 + (end * t) / life));
  },
  exponential: (next, _g, limitDb) => {
    const life = 60 + 240 * next();
    return track((t) => (limitDb * t) / life);
  },
  power: (next, _g, limitDb) => {
    const life = 60 + 240 * next();
    const p = 1.3 + 2.2 * next();
    const end = 10 ** (limitDb / 20) - 1;
    return track((t) => db(1 + end * (t / life) ** p));
  },
  steps: (next, _g, limitDb) => {
    // Damage comes in jumps (spalls breaking out): gaps exponential, sizes exponential.
    const mean = 12 + 25 * next();
    const size = limitDb * (0.08 + 0.2 * next());
    let level = 0;
    let due = -mean * Math.log(1 - next());
    return track((t) => {
      while (t >= due) {
        level += -size * Math.log(1 - next());
        due += -mean * Math.log(1 - next());
      }
      return level;
    });
  },
  runaway: (next, _g, limitDb) => {
    // Rises to a plateau, stays, then runs away: 1 / (1 - s) towards a day of failure.
    const plateau = limitDb * (0.15 + 0.3 * next());
    const rise = 20 + 60 * next();
    const stay = 20 + 100 * next();
    const run = 40 + 120 * next();
    const q = 0.5 + next();
    return track((t) => {
      const base = plateau * (1 - Math.exp((-2 * t) / rise));
      const s = (t - rise - stay) / run;
      return s <= 0 ? base : s >= 0.999 ? 80 : base + -20 * q * Math.log10(1 - s);
    });
  },
  sawtooth: (next, g, limitDb) => {
    // Grows, and heals in part again and again (edges of a spall rolled smooth, grease regained).
    const rate = limitDb / (40 + 120 * next());
    const gap = 10 + 30 * next();
    let level = 0;
    let due = gap * (0.5 + next());
    return track((t) => {
      level += rate * Math.exp(0.3 * g());
      if (t >= due) {
        level -= level * (0.15 + 0.35 * next());
        due += gap * (0.5 + next());
      }
      return level;
    });
  },
  paris: (next, g, limitDb) => {
    // Crack growth da/dt = C a^m with a rate that wanders (random walk held by a spring); level from crack and background.
    const m = 1.1 + 1.4 * next();
    const life = 80 + 220 * next();
    const a0 = 0.3 + 0.4 * next();
    const aEnd = Math.sqrt(10 ** (limitDb / 10) - 1);
    const c = (a0 ** (1 - m) - aEnd ** (1 - m)) / ((m - 1) * life);
    let a = a0;
    let wander = 0;
    const hold = 1 / (15 + 30 * next());
    const sd = 0.5 + 0.5 * next();
    return track(() => {
      wander += -hold * wander + sd * Math.sqrt(2 * hold) * g();
      if (a < 1e4) a += c * a ** m * Math.exp(wander - (sd * sd) / 2);
      return 10 * Math.log10(1 + Math.min(a, 1e4) ** 2) - 10 * Math.log10(1 + a0 * a0);
    });
  },
  // Training laws of other shapes
  kinked: (next, _g, limitDb) => {
    const l1 = 60 + 240 * next();
    const kink = (0.2 + 0.5 * next()) * l1;
    const f = Math.exp(1.6 * (next() - 0.5) * 2);
    return track((t) => (limitDb / l1) * (t < kink ? t : kink + f * (t - kink)));
  },
  logistic: (next, _g, limitDb) => {
    const life = 60 + 240 * next();
    const top = limitDb * (1.05 + next());
    const k = 3 + 4 * next();
    const mid = life * (0.4 + 0.3 * next());
    const f = (t: number) => top / (1 + Math.exp((-k * (t - mid)) / life));
    return track((t) => f(t) - f(0));
  },
  walk: (next, g, limitDb) => {
    const life = 60 + 240 * next();
    let l = 0;
    const s = (limitDb * (0.1 + 0.5 * next())) / Math.sqrt(life);
    return track(() => (l += limitDb / life + s * g()));
  },
};

export function makeLife(law: string, seed: number): Life | null {
  const next = uniform(Math.imul(seed + 1, 2654435761));
  const g = gaussian(next);
  const limitDb = 6 + 8 * next();
  const level = LAWS[law]!(next, g, limitDb);
  const crossing = level.findIndex((v) => v >= limitDb);
  if (crossing < 8) return null;
  const healthy = 20 + 60 * next();
  const every = Math.exp(Math.log(1) + Math.log(7) * next());
  const noise = 0.3 + 1.2 * next();
  const timeDays: number[] = [];
  const value: number[] = [];
  let scatter = g();
  for (let t = 0; t < healthy + crossing; t += every * (0.5 + next())) {
    scatter = 0.2 * scatter + Math.sqrt(1 - 0.04) * g();
    const at = t - healthy;
    const i = Math.floor(Math.max(0, at));
    const truth = at <= 0 ? 0 : level[i]! + (at - i) * (level[i + 1]! - level[i]!);
    timeDays.push(t);
    value.push(10 ** ((truth + noise * scatter + (next() < 0.02 ? 5 * g() : 0)) / 20));
  }
  // Within the crossing day the level rises linearly.
  const a = level[crossing - 1] ?? 0;
  const b = level[crossing]!;
  return {
    timeDays,
    value,
    limit: 10 ** (limitDb / 20),
    truthDays: healthy + crossing - 1 + (limitDb - a) / (b - a),
    onsetDays: healthy,
  };
}
