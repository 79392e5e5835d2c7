import { resampleToAngle, type SpeedChannel } from '../dsp/resample.ts';
import { type CombLine, LINE_PRESENT, lineAt } from './comb.ts';
import { recordLines } from './envelope-bank.ts';
import { ALARM, type Finding, statedChance } from './finding.ts';

export interface OrderLine {
  order: number;
  frequencyHz: number;
  velocityRmsMmPerS: number;
  /** Chance of the line from noise, corrected for the orders looked at. */
  falseAlarmProbability: number;
}

export interface OrdersQuestion {
  /** Acceleration, m/s². */
  samples: Float64Array;
  sampleRateHz: number;
  /** Turns per second; the mean where `speed` gives it over time. */
  shaftHz: number;
  speed?: SpeedChannel;
}

const HIGHEST = 10;
const ORDERS = Array.from({ length: 2 * HIGHEST }, (_, k) => (k + 1) / 2);
/** Share of the largest line from which another order counts (common practice, no source). */
const COUNTS = 0.1;
/** Second order over first from which the second leads the picture (common practice, no source). */
const TWICE = 0.75;

/** Velocity of each half and whole order of a shaft, 0.5 to 10, those that stand out of their surroundings. */
export function shaftOrders(question: OrdersQuestion): OrderLine[] {
  const { samples, sampleRateHz, shaftHz } = question;
  if (!(shaftHz > 0))
    throw new RangeError(`the shaft's speed must be over 0 turns per second, got ${shaftHz}`);
  if (samples.length < 2) return [];
  // Turned into steps of angle and stated in hertz at the mean speed; velocities are at that speed, too.
  const perTurn = 2.56 * HIGHEST;
  const [values, rateHz] =
    question.speed === undefined
      ? [samples, sampleRateHz]
      : [resampleToAngle(samples, sampleRateHz, question.speed, perTurn).values, perTurn * shaftHz];
  if (values.length < 2) return [];
  const spectrum = recordLines(values, rateHz, { topHz: 1.1 * HIGHEST * shaftHz, lineSpacingHz: shaftHz });
  // Half orders have to be lines apart.
  if (spectrum.stepHz > shaftHz / 10) return [];
  return ORDERS.flatMap((order): OrderLine[] => {
    if (order * shaftHz > 0.45 * sampleRateHz) return [];
    const line = lineAt(spectrum, order * shaftHz, order);
    if (line.evidence < LINE_PRESENT + Math.log(ORDERS.length)) return [];
    return [
      {
        order,
        frequencyHz: line.frequencyHz,
        velocityRmsMmPerS: velocityOf(line),
        falseAlarmProbability: statedChance(line.evidence - Math.log(ORDERS.length)),
      },
    ];
  });
}

function velocityOf(line: CombLine): number {
  return ((line.depth / Math.SQRT2) * 1000) / (2 * Math.PI * line.frequencyHz);
}

/**
 * What the orders look like, as a finding, when a line is large enough to mention. The pattern only: what it comes
 * from is for the person at the machine, and the note says what else looks the same.
 * Lines under `noteAboveMmPerS` are what sound machines have; its default is where zone C, unsatisfactory for long
 * running, begins for small machines in ISO 10816-1 Annex B (class I, from secondary texts).
 * Patterns after Randall 2011, section 2.2, in the usual simplification; shares are common practice, no source.
 */
export function orderFinding(lines: OrderLine[], shaftHz: number, noteAboveMmPerS = 1.8): Finding | null {
  const at = (order: number) => lines.find((line) => line.order === order)?.velocityRmsMmPerS ?? 0;
  const largest = lines.reduce((best, line) => Math.max(best, line.velocityRmsMmPerS), 0);
  if (largest < noteAboveMmPerS) return null;
  const counts = lines.filter((line) => line.velocityRmsMmPerS >= COUNTS * largest);
  const halves = counts.filter((line) => line.order % 1 !== 0);
  const high = counts.filter((line) => line.order % 1 === 0 && line.order >= 3);
  const make = (kind: Finding['kind'], order: number, note: string): Finding | null => {
    const first = lines.find((line) => line.order === order);
    if (first === undefined || -Math.log(first.falseAlarmProbability) < ALARM) return null;
    return {
      kind,
      frequencyHz: first.frequencyHz,
      expectedHz: order * shaftHz,
      harmonics: counts.length,
      falseAlarmProbability: first.falseAlarmProbability,
      rivals: [],
      modulationDepth: null,
      bandHz: null,
      note,
    };
  };
  if (high.length >= 4 || halves.length >= 3) {
    const leading = counts.reduce((best, line) => (line.velocityRmsMmPerS > at(best) ? line.order : best), 1);
    return make(
      'looseness-orders',
      leading,
      'many orders of the shaft stand out: looseness or a rub do this; so do a combustion engine and a joint with play',
    );
  }
  if (at(2) >= TWICE * at(1) && at(2) >= TWICE * largest) {
    return make(
      'misalignment-order',
      2,
      'twice a turn leads: misalignment or a bent universal joint do this; so does twice the mains frequency beside it',
    );
  }
  if (at(1) >= TWICE * largest) {
    return make(
      'unbalance-order',
      1,
      'once a turn leads: unbalance is the commonest cause; a bent shaft, an eccentric part or a resonance near this speed look the same',
    );
  }
  return null;
}
