import { studentQuantile } from './student-t.ts';

/** One location's lead over another in one band. */
export interface BandLead {
  db: number;
  randomDb: number;
  /** Power of the noise in this band over its power in the loudest band, 0 to 1. */
  powerShare: number;
}

export interface Lead {
  /** Mean lead over the bands, dB; loud bands weigh more. */
  db: number;
  /** Standard deviation of that mean as a statement about the source: chance, sensors and paths together. */
  sdDb: number;
  /** Scatter of the lead from band to band, dB. */
  scatterDb: number;
  bands: number;
  /** How many bands of equal weight would count as much. */
  effectiveBands: number;
  /** Bands in which the other location leads beyond doubt. */
  reversed: number;
  /** Their share of the weight. */
  reversedShare: number;
  /** The lead holds against chance, the sensors' tolerance and the roughness of paths. */
  holds: boolean;
}

/**
 * Roughness of vibration paths, dB: how far the transfer through a structure departs from its own average from one
 * third octave to the next. Nominally equal vehicles differ by 5 to 10 dB in one and the same path (M. S. Kompella
 * and R. J. Bernhard, "Measurement of the statistical variation of structural-acoustic characteristics of automotive
 * vehicles", SAE 931272, 1993; figures from memory), a standard deviation of about a quarter of that range. So a single
 * band proves little, however steady its lead.
 */
const PATH_SD_DB = 2.5;
/** That roughness weighs as much as this many bands of the measured scatter. */
const PATH_WEIGHT = 2;
/** Chance of a lead this large where there is none. */
const ERROR_SHARE = 0.01;
/** A band is reversed when the other leads by this much and by twice its standard deviation. */
const REVERSED_DB = 3;
/** More than this share of the weight reversed is a reason not to decide. */
export const MOST_REVERSED = 0.2;
/**
 * The lead must be this many times its own scatter from band to band: the other location then leads in about one band
 * of ten at most. A source is ahead nearly everywhere, a lucky set of resonances is ahead on average.
 */
const LEAST_LEAD_SCATTERS = 1.3;
/**
 * And it must be this many times the square of that scatter, per dB: the rougher the difference from band to band, the
 * likelier that both locations stand at the end of a path, and that the source is a third place between them. Found on
 * synthetic common causes (tests/validate).
 */
const LEAST_LEAD_PER_VARIANCE = 0.4;

/**
 * Does one location lead another over all bands, as a source would, and not in some of them only, as a resonance on
 * the path could make it?
 *
 * Scatter between bands is what the paths do; a mean over independent bands is as sure as that scatter over the root
 * of their number. With few bands the scatter is not known, so it is joined with the usual roughness of paths
 * (scaled inverse chi-square prior; Gelman et al., "Bayesian Data Analysis", 2.6). The tolerance of the two sensors is
 * the same in every band and does not average out. Bands weigh by the root of their power: the noise is where it is
 * loud, and yet one resonance must not decide alone. The number of bands that counts is then (sum w)² / sum w²
 * (L. Kish, "Survey Sampling", 1965).
 */
export function leadOver(leads: readonly BandLead[], toleranceDb: number): Lead {
  const raw = leads.map(
    ({ powerShare, randomDb }) => Math.sqrt(powerShare) / (PATH_SD_DB ** 2 + randomDb ** 2),
  );
  const total = raw.reduce((sum, weight) => sum + weight, 0);
  const weights = raw.map((weight) => weight / total);
  const weighted = (value: (lead: BandLead) => number) =>
    leads.reduce((sum, lead, b) => sum + weights[b]! * value(lead), 0);
  const db = weighted((lead) => lead.db);
  const squares = weighted((lead) => (lead.db - db) ** 2);
  const count = leads.length;
  const effectiveBands = 1 / weights.reduce((sum, weight) => sum + weight * weight, 0);
  const dof = PATH_WEIGHT + effectiveBands - 1;
  const scatter = (squares * count) / Math.max(1, count - 1);
  const variance = (PATH_WEIGHT * PATH_SD_DB ** 2 + (effectiveBands - 1) * scatter) / dof;
  const sdDb = Math.hypot(Math.sqrt(variance / effectiveBands), toleranceDb);
  const isReversed = (lead: BandLead) =>
    lead.db < -Math.max(REVERSED_DB, 2 * Math.hypot(lead.randomDb, toleranceDb));
  const reversedShare = weighted((lead) => (isReversed(lead) ? 1 : 0));
  return {
    db,
    sdDb,
    scatterDb: Math.sqrt(squares),
    bands: count,
    effectiveBands,
    reversed: leads.filter(isReversed).length,
    reversedShare,
    holds:
      db > studentQuantile(ERROR_SHARE, dof) * sdDb &&
      db > LEAST_LEAD_SCATTERS * Math.sqrt(variance) &&
      db > LEAST_LEAD_PER_VARIANCE * variance &&
      reversedShare <= MOST_REVERSED,
  };
}
