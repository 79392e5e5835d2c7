import { studentQuantile } from './student-t.ts';

/** One location's lead over another in one band (or one carrier band of an envelope). */
export interface BandLead {
  db: number;
  randomDb: number;
}

export interface Lead {
  /** Mean lead over the bands, dB. */
  db: number;
  /** Standard deviation of that mean as a statement about the source: chance, sensors and paths together. */
  sdDb: number;
  /** Scatter of the lead from band to band, dB. */
  scatterDb: number;
  bands: number;
  /** Bands in which the other location leads beyond doubt. */
  reversed: number;
  /** The lead holds against chance, the sensors' tolerance and the roughness of paths. */
  holds: boolean;
}

/**
 * Roughness of vibration paths, dB: how far the transfer through a structure departs from its own average from one
 * third octave to the next. Nominally equal vehicles differ by 5 to 10 dB in one and the same path (M. S. Kompella
 * and R. J. Bernhard, "Measurement of the statistical variation of structural-acoustic characteristics of automotive
 * vehicles", SAE 931272, 1993; figures from memory), so a single band proves little, however steady its lead.
 */
export const PATH_SD_DB = 5;
/** That roughness weighs as much as this many bands of the measured scatter. */
const PATH_WEIGHT = 3;
/** Neighbouring third octaves share a resonance: this share of them is independent. */
const INDEPENDENT_SHARE = 0.7;
/** Chance of a lead this large where there is none. */
const ERROR_SHARE = 0.01;
/** A band is reversed when the other leads by this much and by twice its standard deviation. */
const REVERSED_DB = 3;
/** More than this share of the bands reversed is a reason not to decide. */
export const MOST_REVERSED = 0.25;

/**
 * Does one location lead another over all bands, as a source would, and not in some of them only, as a resonance on
 * the path could make it?
 *
 * Scatter between bands is what the paths do; a mean over independent bands is as sure as that scatter over the root
 * of their number. With few bands the scatter is not known, so it is joined with the usual roughness of paths
 * (scaled inverse chi-square prior; Gelman et al., "Bayesian Data Analysis", 2.6). The tolerance of the two sensors is
 * the same in every band and does not average out.
 */
export function leadOver(leads: readonly BandLead[], toleranceDb: number): Lead {
  const weights = leads.map(({ randomDb }) => 1 / (PATH_SD_DB ** 2 + randomDb ** 2));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const db = leads.reduce((sum, lead, b) => sum + weights[b]! * lead.db, 0) / total;
  const squares = leads.reduce((sum, lead, b) => sum + (weights[b]! / total) * (lead.db - db) ** 2, 0);
  const count = leads.length;
  const independent = 1 + INDEPENDENT_SHARE * (count - 1);
  const dof = PATH_WEIGHT + independent - 1;
  const variance =
    (PATH_WEIGHT * PATH_SD_DB ** 2 + (independent - 1) * ((squares * count) / Math.max(1, count - 1))) / dof;
  const sdDb = Math.hypot(Math.sqrt(variance / independent), toleranceDb);
  const reversed = leads.filter(
    (lead) => lead.db < -Math.max(REVERSED_DB, 2 * Math.hypot(lead.randomDb, toleranceDb)),
  ).length;
  return {
    db,
    sdDb,
    scatterDb: Math.sqrt(squares),
    bands: count,
    reversed,
    holds: db > studentQuantile(ERROR_SHARE, dof) * sdDb && reversed <= MOST_REVERSED * count,
  };
}
