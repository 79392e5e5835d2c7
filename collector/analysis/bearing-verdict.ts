import type { BearingVerdict } from './bearing-defect.ts';
import { accountsFor, doubtAbout, explainer, explains, RIVAL_SHARE } from './bearing-doubts.ts';
import type { BearingFamily, BearingPart } from './bearing-families.ts';
import { type BearingSearch, type Candidate, HARMONICS, SLIP } from './bearing-search.ts';
import type { Comb } from './comb.ts';
import { strongestUnexplained } from './explain.ts';
import { ALARM, type Finding, type Rival, statedChance } from './finding.ts';
import { standsOutAsOrder } from './shaft-lines.ts';

const NOTES: Record<BearingPart, string> = {
  outer: 'strikes as often as rolling elements pass a point of the outer race',
  inner: 'strikes as often as rolling elements pass a point of the inner race',
  ball: 'strikes as often as a rolling element turns on itself',
  cage: "strikes once per turn of the cage; least certain of the parts, have the bearing's play checked by hand",
};

export interface Decision {
  findings: Finding[];
  verdict: BearingVerdict;
  reason: string;
}

/** Statistically sure is not the same as large: a shallower modulation is common in sound bearings. */
const DEPTH_FOUND = 0.02;
/** Depth from which a comb that the tone test rejects still leaves a doubt. */
const DEPTH_DOUBT = 0.1;
/** From what was found to a verdict: the part whose lines explain the others', unless something speaks against. */
export function decide(search: BearingSearch): Decision {
  const found = search.candidates.filter(isFound).sort((a, b) => b.confirmed!.depth - a.confirmed!.depth);
  const winner = found.find((candidate) =>
    found.every(
      (other) =>
        other === candidate || !accountsFor(other, candidate, search) || explains(candidate, other, search),
    ),
  );
  if (winner === undefined) return decideWithoutWinner(search);
  const others = found.filter(
    (other) => other.family.part !== winner.family.part && !explains(winner, other, search),
  );
  const foreign = foreignComb(winner, search);
  const reason = doubtAbout(winner, others, foreign, search);
  const findings = [winner, ...others].map((candidate) => finding(candidate, search, foreign));
  if (reason !== null) return { findings, verdict: 'not-clear', reason };
  const { part } = winner.family;
  return {
    findings,
    verdict: part,
    reason: `${winner.comb.lines.length} lines of the ${part} family stand out`,
  };
}

function decideWithoutWinner(search: BearingSearch): Decision {
  const doubtful = search.candidates.find(
    (c) =>
      c.family.part !== 'cage' &&
      c.surprise >= ALARM &&
      c.comb.lines.length >= 3 &&
      c.comb.depth >= DEPTH_DOUBT,
  );
  if (doubtful !== undefined) {
    // No finding: on healthy machines this happens in a per cent or two, far above the chance of a finding.
    const reason =
      `${doubtful.comb.lines.length} lines at the ${doubtful.family.part} frequency ` +
      `(${doubtful.comb.lines[0]!.frequencyHz.toFixed(1)} Hz), but little is left of them with the steady tones ` +
      'taken down: tones that beat make such lines too';
    return { findings: [], verdict: 'not-clear', reason };
  }
  for (const family of search.families) {
    if (family.part !== 'outer' && family.part !== 'inner') continue;
    const order = orderWithinSlip(family.expectedHz, search);
    if (order === null || !search.bank.some((spectrum) => standsOutAsOrder(spectrum, search.speed.hz, order)))
      continue;
    const reason = `${order} strikes a turn stand out, and slip may have moved the ${family.part} line there: they cannot be told apart`;
    return { findings: [], verdict: 'not-clear', reason };
  }
  return { findings: [], verdict: 'none', reason: 'no line family of this bearing stands out' };
}

function isFound({ surprise, comb, confirmed }: Candidate): boolean {
  return surprise >= ALARM && comb.depth >= DEPTH_FOUND && confirmed !== null;
}

/** A line family that belongs to no part of this bearing and is not much shallower than the winner's. */
function foreignComb(winner: Candidate, search: BearingSearch): Comb | null {
  const { spectrum, depth } = winner.confirmed!;
  const mask = search.mask(spectrum);
  const by = explainer(winner, search, spectrum);
  const foreign = strongestUnexplained(spectrum, search.speed.hz, HARMONICS, (hz) => mask(hz) || by(hz));
  return foreign !== null && foreign.depth >= RIVAL_SHARE * depth ? foreign : null;
}

function orderWithinSlip(frequencyHz: number, search: BearingSearch): number | null {
  const order = Math.round(frequencyHz / search.speed.hz);
  const distance = Math.abs(frequencyHz - order * search.speed.hz);
  return order >= 1 && distance <= SLIP * frequencyHz ? order : null;
}

function finding(candidate: Candidate, search: BearingSearch, foreign: Comb | null): Finding {
  const { family, comb, surprise } = candidate;
  const rivals = search.candidates
    .filter((other) => other.family.part !== family.part && other.surprise > 0)
    .map((other) => rivalOf(other.family.part, other.comb, other.family, other.surprise));
  if (foreign !== null) rivals.push(rivalOf('unexplained', foreign, null, foreign.evidence));
  const order = orderWithinSlip(comb.fundamentalHz, search);
  if (order !== null) {
    const hz = order * search.speed.hz;
    rivals.push({
      kind: `shaft order ${order}`,
      frequencyHz: hz,
      expectedHz: hz,
      harmonics: 0,
      falseAlarmProbability: 1,
    });
  }
  return {
    kind: family.part,
    frequencyHz: comb.lines[0]!.frequencyHz,
    expectedHz: family.expectedHz,
    harmonics: comb.lines.length,
    falseAlarmProbability: statedChance(surprise),
    modulationDepth: comb.depth,
    bandHz: comb.spectrum.bandHz,
    rivals,
    note: NOTES[family.part],
  };
}

function rivalOf(kind: string, comb: Comb, family: BearingFamily | null, surprise: number): Rival {
  return {
    kind,
    frequencyHz: comb.lines[0]!.frequencyHz,
    expectedHz: family?.expectedHz ?? null,
    harmonics: comb.lines.length,
    falseAlarmProbability: statedChance(surprise),
  };
}
