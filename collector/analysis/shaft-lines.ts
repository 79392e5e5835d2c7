import { jointEvidence } from './background.ts';
import { type CombLine, LINE_PRESENT, lineAt } from './comb.ts';
import type { EnvelopeLines } from './envelope-bank.ts';

export interface ShaftSpeed {
  hz: number;
  /** True when the speed's own lines were found, so that `hz` is measured, not just stated. */
  measured: boolean;
  /** How far `hz` may be off, as a share of it. */
  toleranceShare: number;
}

/**
 * Only the lowest orders count: a bearing's lines stand from about three times the shaft's speed up, sidebands a
 * shaft's speed apart, and would pull the speed towards themselves.
 */
const RECORD_ORDERS = 4;
const ENVELOPE_ORDERS = 3;
/** An order counts when noise makes one like it less than once in 100 000 such places. */
const STRONG = Math.log(100_000);
/** One huge order (unbalance) must not decide alone: orders have to agree. */
const EVIDENCE_CAP = 40;

/**
 * A stated speed is rarely exact (name plate, hand tachometer). Looks within `withinShare` of it for the speed
 * whose lowest orders stand out together: in the record itself, else in the envelopes. The first order must be
 * there, and one more. Otherwise the stated speed stays, with a wider tolerance.
 */
export function refineShaftSpeed(
  record: EnvelopeLines | null,
  envelopes: EnvelopeLines[],
  statedHz: number,
  withinShare = 0.015,
): ShaftSpeed {
  return (
    (record === null ? null : speedFrom([record], statedHz, withinShare, RECORD_ORDERS)) ??
    speedFrom(envelopes, statedHz, withinShare, ENVELOPE_ORDERS) ?? {
      hz: statedHz,
      measured: false,
      toleranceShare: 0.004,
    }
  );
}

function speedFrom(
  spectra: EnvelopeLines[],
  statedHz: number,
  withinShare: number,
  wantedOrders: number,
): ShaftSpeed | null {
  let threshold = Math.log(10_000 * Math.max(1, spectra.length));
  let best: ShaftSpeed | null = null;
  for (const spectrum of spectra) {
    const reachHz = (spectrum.evidence.length - 1) * spectrum.stepHz;
    const orders = Math.min(wantedOrders, Math.floor(reachHz / (statedHz * (1 + withinShare))));
    if (orders < 2) continue;
    const trials = Math.max(1, Math.ceil((2 * statedHz * withinShare * orders) / spectrum.stepHz));
    for (let trial = -trials; trial <= trials; trial++) {
      const share = (withinShare * trial) / trials;
      const hz = statedHz * (1 + share);
      const lines: CombLine[] = [];
      let sum = 0;
      for (let order = 1; order <= orders; order++) {
        const line = lineAt(spectrum, order * hz, order);
        sum += Math.min(EVIDENCE_CAP, line.evidence);
        if (line.evidence >= STRONG) lines.push(line);
      }
      // Between speeds that fit alike, the one nearer to what was stated.
      const surprise = jointEvidence(sum, orders) - Math.log(2 * trials + 1) - 0.5 * (share / 0.005) ** 2;
      if (lines[0]?.harmonic !== 1 || lines.length < 2 || surprise <= threshold) continue;
      threshold = surprise;
      best = { ...speedOf(lines, spectrum.stepHz), measured: true };
    }
  }
  return best;
}

/** Least squares over the orders' places, each known to the same part of a line: sum(order x place) / sum(order²). */
function speedOf(lines: CombLine[], stepHz: number): { hz: number; toleranceShare: number } {
  let cross = 0;
  let squares = 0;
  for (const { harmonic, frequencyHz } of lines) {
    cross += harmonic * frequencyHz;
    squares += harmonic * harmonic;
  }
  const hz = cross / squares;
  return { hz, toleranceShare: Math.max(0.001, stepHz / (Math.sqrt(squares) * hz)) };
}

/**
 * A comb at a whole multiple of the shaft's speed that rises above the orders on both sides of it, harmonics
 * included: something repeats `order` times a turn. Gear teeth and blades do; so does a bearing part whose line
 * slip has moved onto that order, and then nothing in the spectrum can tell them apart.
 */
export function standsOutAsOrder(spectrum: EnvelopeLines, shaftHz: number, order: number): boolean {
  // Orders 1 and 2 are the shaft's own: unbalance, misalignment, a joint.
  if (order < 3 || (2 * order + 1) * shaftHz > (spectrum.evidence.length - 1) * spectrum.stepHz) return false;
  return [order, 2 * order].every((at) => {
    const own = lineAt(spectrum, at * shaftHz);
    const beside = Math.max(
      lineAt(spectrum, (at - 1) * shaftHz).depth,
      lineAt(spectrum, (at + 1) * shaftHz).depth,
    );
    return own.evidence >= 2 * LINE_PRESENT && own.depth >= 2 * beside;
  });
}

/** Does this frequency belong to a whole multiple of the shaft's speed (or to another known line)? */
export function shaftMask(
  speed: ShaftSpeed,
  stepHz: number,
  otherLinesHz: number[] = [],
): (frequencyHz: number) => boolean {
  return (frequencyHz) => {
    const order = Math.round(frequencyHz / speed.hz);
    const near = Math.max(2 * stepHz, speed.toleranceShare * frequencyHz);
    if (order >= 1 && Math.abs(frequencyHz - order * speed.hz) <= near) return true;
    return otherLinesHz.some((line) => Math.abs(frequencyHz - line) <= Math.max(1.6 * stepHz, 0.003 * line));
  };
}
