import { CLOCK_JITTER_US, type RateFit, REPLAY_JITTER_US, relativeRateSd, startRateFit } from './rate-fit.ts';

/** True rate of a node's oscillator by the nominal rate it was set to. Serialisable: [nominal Hz, true / nominal]. */
export type RateMemory = [number, number][];

/** Most nominal rates remembered of one node. */
const MAX_RATES = 8;
/** Sensor oscillators are within about 5 % of nominal (common practice, no source). */
const NOMINAL_SD = 0.03;
/** What temperature may have done to a rate that was measured before. */
const REMEMBERED_SD = 1e-3;

export function rememberRate(memory: RateMemory, nominalRateHz: number, fit: RateFit): void {
  if (relativeRateSd(fit) > 5e-4) return;
  const ratio = 1e6 / fit.periodUs / nominalRateHz;
  const entry = memory.find(([nominal]) => nominal === nominalRateHz);
  if (entry) entry[1] = ratio;
  else {
    memory.push([nominalRateHz, ratio]);
    if (memory.length > MAX_RATES) memory.shift();
  }
}

/** Starts a fit from what is known of the node's rate. A replayed recording's rate is what it says. */
export function fitFromMemory(
  memory: RateMemory,
  nominalRateHz: number,
  counter: number,
  clockUs: number,
  replay: boolean,
): RateFit {
  const known = memory.find(([nominal]) => nominal === nominalRateHz);
  const rateHz = nominalRateHz * (replay ? 1 : (known?.[1] ?? 1));
  const sd = known && !replay ? REMEMBERED_SD : NOMINAL_SD;
  return startRateFit(counter, clockUs, rateHz, sd, replay ? REPLAY_JITTER_US : CLOCK_JITTER_US);
}
