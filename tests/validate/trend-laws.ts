import type { Random } from '../../collector/trend/random.ts';

/**
 * Wear laws: level in dB above new against days since the onset, without measuring noise.
 *
 * `shaped` are the shapes that the forecast's ensemble knows as straight lines, or nearly; `other` have a smooth course
 * it does not know. `unlike` break its assumptions on purpose: jumps, rest and run-away, healing, a wandering rate of
 * crack growth. Settings were chosen on these three groups by their coverage, with an eye on `fresh`; `last` was written
 * afterwards and decided nothing.
 */
export type Law = (next: Random, gauss: Random, limitDb: number) => (day: number) => number;

const db = (ratio: number) => 20 * Math.log10(ratio);
const between = (next: Random, low: number, high: number) => low + (high - low) * next();
const lifeDays = (next: Random) => between(next, 60, 300);
/** Amplitude above new, as a ratio, at the limit. */
const excess = (limitDb: number) => 10 ** (limitDb / 20) - 1;

const linear: Law = (next, _gauss, limitDb) => {
  const life = lifeDays(next);
  return (day) => db(1 + (excess(limitDb) * day) / life);
};

const exponential: Law = (next, _gauss, limitDb) => {
  const life = lifeDays(next);
  return (day) => (limitDb * day) / life;
};

const power: Law = (next, _gauss, limitDb) => {
  const [life, exponent] = [lifeDays(next), between(next, 1.3, 3.5)];
  return (day) => db(1 + excess(limitDb) * (day / life) ** exponent);
};

/** The pace changes once, by a factor between 0.2 and 5. */
const kinked: Law = (next, _gauss, limitDb) => {
  const life = lifeDays(next);
  const [kink, factor] = [between(next, 0.2, 0.7) * life, Math.exp(between(next, -1.6, 1.6))];
  return (day) => (limitDb / life) * (day < kink ? day : kink + factor * (day - kink));
};

/** S-shaped, settling somewhere above the limit. */
const logistic: Law = (next, _gauss, limitDb) => {
  const [life, top, steep] = [lifeDays(next), limitDb * between(next, 1.05, 2.05), between(next, 3, 7)];
  const middle = life * between(next, 0.4, 0.7);
  const at = (day: number) => top / (1 + Math.exp((-steep * (day - middle)) / life));
  return (day) => at(day) - at(0);
};

/** A rise on which the level itself walks at random. */
const walk: Law = (next, gauss, limitDb) => {
  const life = lifeDays(next);
  const step = (limitDb * between(next, 0.1, 0.6)) / Math.sqrt(life);
  let level = 0;
  return () => {
    level += limitDb / life + step * gauss();
    return level;
  };
};

/** Damage in jumps (pieces breaking out): gaps and sizes exponential. */
const steps: Law = (next, _gauss, limitDb) => {
  const [gap, size] = [between(next, 12, 37), limitDb * between(next, 0.08, 0.28)];
  const draw = (mean: number) => -mean * Math.log(1 - next());
  let level = 0;
  let due = draw(gap);
  return (day) => {
    for (; day >= due; due += draw(gap)) level += draw(size);
    return level;
  };
};

/** Rises to a plateau, rests there, then runs away towards a day of failure. */
const runaway: Law = (next, _gauss, limitDb) => {
  const plateau = limitDb * between(next, 0.15, 0.45);
  const [rise, rest, run] = [between(next, 20, 80), between(next, 20, 120), between(next, 40, 160)];
  const exponent = between(next, 0.5, 1.5);
  return (day) => {
    const base = plateau * (1 - Math.exp((-2 * day) / rise));
    const share = (day - rise - rest) / run;
    if (share <= 0) return base;
    return base - 20 * exponent * Math.log10(Math.max(1e-4, 1 - share));
  };
};

/** Grows, and heals in part again and again: edges rolled smooth, grease regained. */
const sawtooth: Law = (next, gauss, limitDb) => {
  const [pace, gap] = [limitDb / between(next, 40, 160), between(next, 10, 40)];
  let level = 0;
  let due = gap * between(next, 0.5, 1.5);
  return (day) => {
    level += pace * Math.exp(0.3 * gauss());
    if (day >= due) {
      level -= level * between(next, 0.15, 0.5);
      due += gap * between(next, 0.5, 1.5);
    }
    return level;
  };
};

/** Crack growth da/dt = C a^m (Paris and Erdogan 1963) at a rate that wanders; level from crack and background. */
const paris: Law = (next, gauss, limitDb) => {
  const [exponent, life] = [between(next, 1.1, 2.5), between(next, 80, 300)];
  const first = between(next, 0.3, 0.7);
  const last = Math.sqrt(10 ** (limitDb / 10) - 1);
  const constant = (first ** (1 - exponent) - last ** (1 - exponent)) / ((exponent - 1) * life);
  const [hold, spread] = [1 / between(next, 15, 45), between(next, 0.5, 1)];
  let crack = first;
  let wander = 0;
  return () => {
    wander += -hold * wander + spread * Math.sqrt(2 * hold) * gauss();
    crack = Math.min(1e4, crack + constant * crack ** exponent * Math.exp(wander - spread ** 2 / 2));
    return 10 * Math.log10((1 + crack ** 2) / (1 + first ** 2));
  };
};

/** Wear in episodes: days of hard use and days of none, in turn. */
const episodes: Law = (next, _gauss, limitDb) => {
  const pace = (2 * limitDb) / lifeDays(next);
  const draw = () => -between(next, 8, 25) * Math.log(1 - next());
  let level = 0;
  let wearing = true;
  let due = draw();
  return (day) => {
    for (; day >= due; due += draw()) wearing = !wearing;
    if (wearing) level += pace;
    return level;
  };
};

/** The pace swings with the weeks (load, weather). */
const swinging: Law = (next, _gauss, limitDb) => {
  const [life, period, phase] = [lifeDays(next), between(next, 30, 120), 2 * Math.PI * next()];
  let level = 0;
  return (day) => {
    level += (limitDb / life) * (1 + 0.9 * Math.sin((2 * Math.PI * day) / period + phase));
    return level;
  };
};

/** Two parts wear at different pace, and the level is the sum of their powers. */
const twoParts: Law = (next, _gauss, limitDb) => {
  const [slow, fast] = [between(next, 100, 300), between(next, 30, 120)];
  const late = between(next, 0.2, 0.8) * slow;
  const part = (days: number, life: number) => 10 ** ((limitDb * Math.max(0, days)) / life / 10) - 1;
  return (day) => 10 * Math.log10(1 + part(day, slow) + part(day - late, fast));
};

/** Grease is gone on a day, and wear goes on three to ten times as fast and falls back to twice its pace. */
const starved: Law = (next, _gauss, limitDb) => {
  const life = lifeDays(next);
  const [gone, factor, back] = [between(next, 0.2, 0.7) * life, between(next, 3, 10), between(next, 5, 30)];
  let level = 0;
  return (day) => {
    const since = day - gone;
    level += (limitDb / life) * (since < 0 ? 1 : 2 + (factor - 2) * Math.exp(-since / back));
    return level;
  };
};

/** Holds, and climbs on rare load peaks whose sizes have a heavy tail (Pareto). */
const ratchet: Law = (next, _gauss, limitDb) => {
  const [gap, least] = [between(next, 6, 20), limitDb * between(next, 0.02, 0.06)];
  const wait = () => -gap * Math.log(1 - next());
  let level = 0;
  let due = wait();
  return (day) => {
    for (; day >= due; due += wait()) level += least * (1 - next()) ** (-1 / 1.5);
    return level;
  };
};

/** Grows exponentially from far below the background, whose power it adds to: long unseen. */
const masked: Law = (next, _gauss, limitDb) => {
  const [life, start] = [lifeDays(next), between(next, -20, -6)];
  const end = 10 * Math.log10(10 ** (limitDb / 10) - 1);
  const power = (day: number) => 10 ** ((start + ((end - start) * day) / life) / 10);
  return (day) => 10 * Math.log10((1 + power(day)) / (1 + power(0)));
};

/** Slows down all the time: the square root of time and its like. */
const slowing: Law = (next, _gauss, limitDb) => {
  const [life, exponent] = [lifeDays(next), between(next, 0.5, 0.8)];
  return (day) => limitDb * (day / life) ** exponent;
};

/** Rises and stops below the limit for good: no date is right here. */
export const arrested: Law = (next, _gauss, limitDb) => {
  const [life, top] = [lifeDays(next), limitDb * between(next, 0.4, 0.9)];
  return (day) => top * (1 - Math.exp((-3 * day) / life));
};

export const LAWS: Record<string, Record<string, Law>> = {
  shaped: { linear, exponential, power },
  other: { kinked, logistic, walk },
  unlike: { steps, runaway, sawtooth, paris },
  fresh: { episodes, swinging, twoParts, starved },
  last: { ratchet, masked, slowing },
};
