import { type BearingSearch, type Candidate, HARMONICS } from './bearing-search.ts';
import { type Comb, LINE_PRESENT, lineAt } from './comb.ts';
import { explainedBy, oneOfACageComb, residualComb } from './explain.ts';
import { ALARM } from './finding.ts';

/** Evidence from which a line family is worth naming as a rival: once in twenty. */
const RIVAL = Math.log(20);
/** Share of the winner's depth from which another explanation counts as a rival on equal terms. */
export const RIVAL_SHARE = 0.4;
/** The same where each may be the other's sideband. */
const MUTUAL_SHARE = 0.6;
/** A cage's own defect strikes once a turn, sharply: many harmonics. Fewer are only a swelling load. */
const CAGE_LINES = 4;

/** Is nothing left of `other` when the lines that `candidate` explains are taken away? */
export function explains(candidate: Candidate, other: Candidate, search: BearingSearch): boolean {
  const comb = other.confirmed ?? other.comb;
  const mask = search.mask(comb.spectrum);
  const by = explainer(candidate, search, comb.spectrum);
  const rest = residualComb(comb.spectrum, comb, HARMONICS, (hz) => mask(hz) || by(hz));
  return rest === null || rest.surprise < ALARM;
}

/**
 * Could `other` be a part of `candidate`'s picture: is its very fundamental a harmonic or a deep sideband of it?
 * A mild sideband stays below the line it belongs to, so it could not have led.
 */
export function accountsFor(candidate: Candidate, other: Candidate, search: BearingSearch): boolean {
  const { spectrum, lines } = other.confirmed ?? other.comb;
  const by = explainer(candidate, search, spectrum, true);
  return by(lines[0]!.frequencyHz) && explains(candidate, other, search);
}

export function explainer(
  { family, confirmed, comb }: Candidate,
  search: BearingSearch,
  spectrum: Comb['spectrum'],
  onlyDeep = false,
) {
  const cage = search.families.find((other) => other.part === 'cage')!;
  const { fundamentalHz } = confirmed ?? comb;
  return explainedBy(family, fundamentalHz, spectrum, search.speed.hz, cage.expectedHz, onlyDeep);
}

/** What speaks against naming the winner; null when nothing does. */
export function doubtAbout(
  winner: Candidate,
  others: Candidate[],
  foreign: Comb | null,
  search: BearingSearch,
): string | null {
  const { confirmed, comb, family } = winner;
  const twin = search.candidates.find(
    (other) =>
      other.family.part !== family.part && other.surprise >= RIVAL && sameFundamental(other.comb, comb),
  );
  if (twin !== undefined)
    return `the ${family.part} and ${twin.family.part} lines lie too close together to be told apart`;
  const equal = others.find((other) => other.confirmed!.depth >= RIVAL_SHARE * confirmed!.depth);
  if (equal !== undefined) return `lines of ${family.part} and ${equal.family.part} both stand out`;
  if (swellsOnly(confirmed!, search)) {
    return `the ${family.part} line shows no harmonic beyond the second: a smooth swelling would do, a defect strikes`;
  }
  const parent = search.candidates.find((other) => {
    if (other.family.part === family.part || other.surprise < RIVAL || !accountsFor(other, winner, search))
      return false;
    // Sidebands one of the other, both ways round: then the deeper is the carrier, if it is clearly deeper.
    const share = explains(winner, other, search) ? MUTUAL_SHARE : RIVAL_SHARE;
    return other.comb.depth >= share * comb.depth;
  });
  if (parent !== undefined) {
    return `the ${family.part} lines may be no more than sidebands of the ${parent.family.part} lines`;
  }
  if (foreign !== null && foreign.depth >= 0.7 * confirmed!.depth) {
    return `a line family at ${foreign.fundamentalHz.toFixed(1)} Hz that belongs to no part of this bearing is as strong`;
  }
  if (family.part !== 'cage') {
    return fromACageComb(confirmed!, search)
      ? `the ${family.part} line is one of many at the cage's spacing and no deeper than they are`
      : null;
  }
  // Every other part's defect is carried past the load by the cage, so its speed alone accuses it least of all.
  const carried = search.candidates.find(
    (other) =>
      other.family.part !== 'cage' &&
      other.surprise >= RIVAL &&
      !(explains(winner, other, search) && fromACageComb(other.comb, search)),
  );
  if (carried !== undefined) return `lines of cage and ${carried.family.part} both stand out`;
  if (comb.lines.length < CAGE_LINES || foreign !== null) {
    return "lines at the cage's speed alone: a load that swells with the cage, or a ball, makes them too";
  }
  return null;
}

function fromACageComb({ spectrum, lines }: Comb, search: BearingSearch): boolean {
  const cage = search.families.find((family) => family.part === 'cage')!;
  return oneOfACageComb(spectrum, lines[0]!.frequencyHz, cage.expectedHz);
}

/**
 * A defect strikes, and strikes have many harmonics; something that swells and fades (a load, a belt, another
 * machine) has one or two. True where bands reach to the third harmonic and none shows a third, fourth or fifth.
 */
function swellsOnly(comb: Comb, search: BearingSearch): boolean {
  let reached = false;
  for (const spectrum of [...search.bank, comb.spectrum]) {
    const reachHz = (spectrum.evidence.length - 2) * spectrum.stepHz;
    if (lineAt(spectrum, comb.fundamentalHz).evidence < ALARM) continue;
    for (const harmonic of [3, 4, 5]) {
      if (harmonic * comb.fundamentalHz > reachHz) break;
      reached = true;
      const line = lineAt(spectrum, harmonic * comb.fundamentalHz, harmonic);
      if (line.evidence >= RIVAL + LINE_PRESENT && !search.mask(spectrum)(line.frequencyHz)) return false;
    }
  }
  return reached;
}

function sameFundamental(a: Comb, b: Comb): boolean {
  const stepHz = Math.max(a.spectrum.stepHz, b.spectrum.stepHz);
  return Math.abs(a.fundamentalHz - b.fundamentalHz) <= Math.max(2 * stepHz, 0.004 * a.fundamentalHz);
}
