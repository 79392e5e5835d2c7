/** What every analysis says of a line family it found. */
export interface Finding {
  kind: FindingKind;
  /** Of the first line, as found. */
  frequencyHz: number;
  /** Where it was expected; null when nothing known is there. */
  expectedHz: number | null;
  /** Lines present, the first included. */
  harmonics: number;
  /** Chance of this from noise, corrected for all that was searched; never under 1 in the healthy signals simulated. */
  falseAlarmProbability: number;
  /** Other explanations, with their support. */
  rivals: Rival[];
  /** Depth of modulation of the band's envelope, 0 to about 1; null for lines of the record itself. */
  modulationDepth: number | null;
  /** Band of the envelope; null for lines of the record itself. */
  bandHz: [number, number] | null;
  /** What it may mean, with its usual look-alikes, in one sentence. */
  note: string;
}

export type FindingKind =
  | 'outer'
  | 'inner'
  | 'ball'
  | 'cage'
  | 'gear-mesh'
  | 'unbalance-order'
  | 'misalignment-order'
  | 'looseness-orders'
  | 'unexplained';

export interface Rival {
  kind: string;
  frequencyHz: number;
  expectedHz: number | null;
  harmonics: number;
  falseAlarmProbability: number;
}

/** Healthy signals the rules were tried on (tests/validate): no smaller chance is ever stated. */
export const SIMULATED_HEALTHY = 1200;

/** A finding needs lines that noise makes less than once in this many records (-ln of the chance). */
export const ALARM = Math.log(1000);

/** From evidence (-ln of a chance) to a chance that may be stated. */
export function statedChance(surprise: number): number {
  return Math.min(1, Math.max(1 / SIMULATED_HEALTHY, Math.exp(-surprise)));
}
