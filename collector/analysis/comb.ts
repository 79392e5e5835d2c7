import { evidenceOfGreatest, jointEvidence } from './background.ts';
import { type EnvelopeLines, HANN_NOISE_BANDWIDTH } from './envelope-bank.ts';

/** A line of a comb as found: harmonic number, where, how much above chance, how deep the modulation. */
export interface CombLine {
  harmonic: number;
  frequencyHz: number;
  /** -ln of the chance that noise makes a line as high near this place. */
  evidence: number;
  /** Amplitude of the modulation over the mean envelope. */
  depth: number;
}

export interface Comb {
  fundamentalHz: number;
  lines: CombLine[];
  /** Sum of the evidence of all tested harmonics but the strongest. */
  evidence: number;
  /** -ln of the chance of this from noise, corrected for the places searched in this one spectrum. */
  surprise: number;
  /** Root of (depth of the fundamental x depth of the strongest harmonic): both must be there. */
  depth: number;
  spectrum: EnvelopeLines;
}

export interface CombSearch {
  fromHz: number;
  toHz: number;
  /** Highest harmonic tested. */
  harmonics: number;
  /** True where a frequency belongs to something else and must not count. */
  taken?: (frequencyHz: number, toleranceHz: number) => boolean;
}

/** A line counts as present when noise makes one like it less than once in a hundred such places. */
export const LINE_PRESENT = Math.log(100);

/** A spectrum coarser than this share of the fundamental cannot tell its place from others'. */
const COARSEST_STEP = 0.04;

/** How far a line may lie from its harmonic's place, share of its frequency, beside one line of resolution. */
const SMEAR = 0.001;

function toleranceBins(frequencyHz: number, stepHz: number): number {
  return 1 + Math.floor((SMEAR * frequencyHz) / stepHz);
}

/** The line of one place. */
export function lineAt(spectrum: EnvelopeLines, frequencyHz: number, harmonic = 1): CombLine {
  const { stepHz, evidence, relativePower, relativeBackground } = spectrum;
  const tolerance = toleranceBins(frequencyHz, stepHz);
  const centre = Math.round(frequencyHz / stepHz);
  const first = Math.max(1, centre - tolerance);
  const last = Math.min(evidence.length - 1, centre + tolerance);
  let best = first;
  let power = 0;
  for (let k = first; k <= last; k++) {
    if (evidence[k]! > evidence[best]!) best = k;
    power += relativePower[k]! - relativeBackground[k]!;
  }
  return {
    harmonic,
    frequencyHz: best * stepHz,
    evidence: last < first ? 0 : evidenceOfGreatest(evidence[best]!, last - first + 1),
    depth: Math.sqrt(2 * Math.max(0, power / HANN_NOISE_BANDWIDTH)),
  };
}

/**
 * The best comb (a line and its harmonics) whose fundamental lies in a range. A comb needs its fundamental and
 * at least one harmonic present: harmonics alone would let the second harmonic of one part's frequency pass for
 * the third of another's (on a 6205, twice the inner race line lies within 0.7 % of three times the outer's).
 *
 * The chance is Fisher's sum of evidence over the harmonics, times the number of places tried in the range. The
 * strongest line is left out of the sum: real machines put lines of other origin anywhere (beats of two tones,
 * mains, another shaft), and one of them may fall on any place searched. So the question put is "given one
 * foreign line here, would noise make the rest?" (the partial conjunction of Y. Benjamini and R. Heller,
 * "Screening for partial conjunction hypotheses", 2008, with two of the lines real).
 */
export function bestComb(spectrum: EnvelopeLines, search: CombSearch): Comb | null {
  const { stepHz } = spectrum;
  const reachHz = (spectrum.evidence.length - 1) * stepHz;
  const harmonics = Math.min(search.harmonics, Math.floor(reachHz / search.toHz));
  if (harmonics < 2 || stepHz > COARSEST_STEP * search.fromHz) return null;
  const centre = (search.fromHz + search.toHz) / 2;
  const places = Math.max(
    1,
    ((search.toHz - search.fromHz) * harmonics) /
      stepHz /
      (2 * toleranceBins(harmonics * centre, stepHz) + 1),
  );
  const trials = Math.ceil(2 * places);
  let best: Comb | null = null;
  for (let trial = 0; trial <= trials; trial++) {
    const fundamentalHz = search.fromHz + ((search.toHz - search.fromHz) * trial) / trials;
    const comb = combAt(spectrum, fundamentalHz, harmonics, search.taken);
    if (comb !== null && (best === null || comb.evidence > best.evidence)) best = comb;
  }
  if (best === null) return null;
  return {
    ...best,
    surprise: Math.max(0, jointEvidence(best.evidence, harmonics - 1) - Math.log(trials + 1)),
  };
}

/** The comb of one exact fundamental, or null where its fundamental or every harmonic is missing or taken. */
export function combAt(
  spectrum: EnvelopeLines,
  fundamentalHz: number,
  harmonics: number,
  taken?: CombSearch['taken'],
): Comb | null {
  const lines: CombLine[] = [];
  let evidence = 0;
  let strongest = 0;
  let second = 0;
  for (let harmonic = 1; harmonic <= harmonics; harmonic++) {
    const at = harmonic * fundamentalHz;
    const line = lineAt(spectrum, at, harmonic);
    const free = taken === undefined || !(taken(line.frequencyHz, 0) || taken(at, 0));
    if (harmonic === 1 && !(free && line.evidence >= LINE_PRESENT)) return null;
    if (!free) continue;
    evidence += line.evidence;
    strongest = Math.max(strongest, line.evidence);
    if (line.evidence >= LINE_PRESENT) {
      lines.push(line);
      if (harmonic > 1) second = Math.max(second, line.depth);
    }
  }
  if (lines.length < 2) return null;
  return {
    fundamentalHz,
    lines,
    evidence: evidence - strongest,
    surprise: 0,
    depth: Math.sqrt(lines[0]!.depth * second),
    spectrum,
  };
}
