import type { Coupling, DriveTrain } from './model.ts';
import { driveTrainMistakes } from './model.ts';

/** Shafts whose speeds stand in one fixed ratio: no vibration measurement can tell a line of one from another's. */
export interface FixedSet {
  shafts: { name: string /** Turns per turn of the set's first shaft. */; order: number }[];
}

export interface KnownSpeed {
  shaft: string;
  hz: number;
}

export interface ShaftSpeeds {
  /** Turns per second of every shaft that follows from what is known. */
  hz: Map<string, number>;
  /** Known speeds that contradict each other: which, and by how much (share). */
  contradictions: { shaft: string; statedHz: number; followsHz: number; share: number }[];
}

/** Two known speeds of one set may differ by this much before it is called a contradiction. */
const AGREEMENT = 0.02;

/** The sets of shafts in fixed ratio, in the selected gear. */
export function fixedSets(train: DriveTrain, gear?: string): FixedSet[] {
  const mistakes = driveTrainMistakes(train);
  if (mistakes.length > 0) throw new RangeError(`drive train: ${mistakes.join('; ')}`);
  const order = new Map<string, number>();
  const sets: FixedSet[] = [];
  for (const start of train.shafts) {
    if (order.has(start)) continue;
    order.set(start, 1);
    const members = [start];
    for (let at = 0; at < members.length; at++) {
      const here = members[at]!;
      for (const coupling of train.couplings) {
        const ratio = couplingRatio(coupling, gear);
        if (ratio === null) continue;
        const next =
          coupling.driving === here ? coupling.driven : coupling.driven === here ? coupling.driving : null;
        if (next === null || order.has(next)) continue;
        order.set(next, coupling.driving === here ? order.get(here)! / ratio : order.get(here)! * ratio);
        members.push(next);
      }
    }
    sets.push({ shafts: members.map((name) => ({ name, order: order.get(name)! })) });
  }
  return sets;
}

/** Turns of the driving shaft per turn of the driven one; null where speeds do not carry over. */
function couplingRatio(coupling: Coupling, gear: string | undefined): number | null {
  if (coupling.kind === 'slipping') return null;
  if (coupling.kind === 'gears') return coupling.drivenTeeth / coupling.drivingTeeth;
  if (typeof coupling.ratio === 'number') return coupling.ratio;
  // Without a selected gear the two sides are separate, and that is the truth: it could be any.
  return gear === undefined ? null : (coupling.ratio[gear] ?? null);
}

/** Every shaft's speed that follows from the known ones. The first known speed of a set leads. */
export function shaftSpeeds(train: DriveTrain, known: KnownSpeed[], gear?: string): ShaftSpeeds {
  const hz = new Map<string, number>();
  const contradictions: ShaftSpeeds['contradictions'] = [];
  const sets = fixedSets(train, gear);
  for (const speed of known) {
    const set = sets.find((candidate) => candidate.shafts.some((shaft) => shaft.name === speed.shaft));
    if (set === undefined) {
      throw new RangeError(`a speed is given for "${speed.shaft}", which is not a shaft of this drive train`);
    }
    const follows = hz.get(speed.shaft);
    if (follows !== undefined) {
      const share = Math.abs(speed.hz - follows) / Math.max(follows, 1e-9);
      if (share > AGREEMENT) {
        contradictions.push({ shaft: speed.shaft, statedHz: speed.hz, followsHz: follows, share });
      }
      continue;
    }
    const own = set.shafts.find((shaft) => shaft.name === speed.shaft)!.order;
    for (const shaft of set.shafts) hz.set(shaft.name, (speed.hz * shaft.order) / own);
  }
  return { hz, contradictions };
}
