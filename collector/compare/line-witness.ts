import { normalQuantile } from '../trend/normal.ts';
import { type DefectLine, LINE_PRESENT, type LineSize } from './defect-line.ts';
import type { PairLead, Witness } from './witness.ts';

/** Roughness of paths in a carrier band, dB; see `lead.ts`, and a little more for the envelope's square. */
const PATH_SD_DB = 5;
/** Chance of a lead this large where there is none. */
const ERROR_SHARE = 0.02;
/** Carriers that must show the line: one alone may be a resonance, or a line of something else. */
const LEAST_CARRIERS = 2;
/** A size where nothing is seen: small against any line, yet a number. */
const LEAST_POWER = 1e-18;

/**
 * Where is a defect's line largest? By its whole size, the powers of all carrier bands that show it added up, because
 * strikes ring the structure around the defect in some bands and hardly in others. Two hurdles, for a resonance on a
 * path can lift one carrier by far: the lead must exceed what paths do to a sum over so many carriers, and the mean
 * lead over the carriers must point the same way, beyond the sensors' tolerance.
 *
 * Null where no location shows the line.
 */
export function lineWitness(
  ids: readonly string[],
  { sizes }: DefectLine,
  toleranceDb: (i: number, j: number) => number,
): Witness | null {
  const totals = sizes.map((carriers) => carriers.reduce((sum, size) => sum + shown(size), 0));
  const largest = Math.max(...totals);
  if (largest === 0) return null;
  const first = totals.indexOf(largest);
  const powers = sizes[first]!.map(shown);
  const carriers = powers.filter((power) => power > 0).length;
  // How many carriers the size rests on: all of them when alike, one when one rules.
  const independent = largest ** 2 / powers.reduce((sum, power) => sum + power * power, 0);
  const pairs = ids.flatMap((againstId, j): PairLead[] => {
    if (j === first) return [];
    const db = 10 * Math.log10(largest / Math.max(totals[j]!, LEAST_POWER, hidden(sizes[j]!)));
    const leads = carrierLeads(sizes[first]!, sizes[j]!);
    const mean = leads.reduce((sum, lead) => sum + lead, 0) / leads.length;
    const sdDb = Math.hypot(PATH_SD_DB / Math.sqrt(independent), toleranceDb(first, j));
    return [
      {
        locationId: ids[first]!,
        againstId,
        db,
        sdDb,
        scatterDb: Math.sqrt(leads.reduce((sum, lead) => sum + (lead - mean) ** 2, 0) / leads.length),
        bands: leads.length,
        effectiveBands: independent,
        reversed: leads.filter((lead) => lead < 0).length,
        reversedShare: leads.filter((lead) => lead < 0).length / leads.length,
        holds:
          carriers >= LEAST_CARRIERS &&
          mean > 2 * toleranceDb(first, j) &&
          db > normalQuantile(1 - ERROR_SHARE) * sdDb,
      },
    ];
  });
  return { leaderId: pairs.every(({ holds }) => holds) ? ids[first]! : null, foremostId: ids[first]!, pairs };
}

/** Power of a line that is there beyond chance, else 0. */
function shown({ evidence, amplitudeRmsMPerS2 }: LineSize): number {
  return evidence < LINE_PRESENT ? 0 : amplitudeRmsMPerS2 ** 2;
}

/** The most that could hide in a location's carriers where it shows no line at all. */
function hidden(carriers: readonly LineSize[]): number {
  return carriers.some((size) => shown(size) > 0)
    ? 0
    : Math.min(...carriers.map(({ amplitudeRmsMPerS2 }) => amplitudeRmsMPerS2 ** 2));
}

/** Lead in each carrier where either shows the line. */
function carrierLeads(a: readonly LineSize[], b: readonly LineSize[]): number[] {
  return a.flatMap((size, c) =>
    shown(size) === 0 && shown(b[c]!) === 0
      ? []
      : [20 * Math.log10(size.amplitudeRmsMPerS2 / b[c]!.amplitudeRmsMPerS2)],
  );
}
