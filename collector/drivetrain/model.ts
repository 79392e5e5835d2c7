import type { BearingMultipliers } from './bearing.ts';

/**
 * What turns in an asset and how it hangs together. Names are the user's; a coupling or part names its shafts.
 */
export interface DriveTrain {
  shafts: string[];
  couplings: Coupling[];
  parts: Part[];
}

export type Coupling =
  /** Two gears in mesh, or two sprockets of one chain. */
  | {
      kind: 'gears';
      name: string;
      driving: string;
      driven: string;
      drivingTeeth: number;
      drivenTeeth: number;
    }
  /** Turns of `driving` per turn of `driven`, one for all or one per selectable gear ("1", "2", "R"). */
  | { kind: 'ratio'; name: string; driving: string; driven: string; ratio: number | Record<string, number> }
  /** Torque converter, clutch, belt: the two speeds are near each other or not, but neither gives the other. */
  | { kind: 'slipping'; name: string; driving: string; driven: string };

type Part =
  | { kind: 'bearing'; name: string; shaft: string; multipliers: BearingMultipliers; otherShaft?: string }
  /** Turns unevenly twice per turn when bent. */
  | { kind: 'universal-joint'; name: string; shaft: string }
  | { kind: 'blades'; name: string; shaft: string; count: number }
  /** A wheel on the road: its non-uniformity shows at whole orders. */
  | { kind: 'wheel'; name: string; shaft: string; circumferenceM: number };

/** Every mistake of a model, in words; empty when it can be used. */
export function driveTrainMistakes(train: DriveTrain): string[] {
  const mistakes: string[] = [];
  const known = new Set(train.shafts);
  if (known.size !== train.shafts.length) mistakes.push('two shafts carry the same name');
  const need = (shaft: string, where: string) => {
    if (!known.has(shaft))
      mistakes.push(`${where} names the shaft "${shaft}", which is not in the list of shafts`);
  };
  for (const coupling of train.couplings) {
    need(coupling.driving, coupling.name);
    need(coupling.driven, coupling.name);
    if (coupling.driving === coupling.driven) mistakes.push(`${coupling.name} couples a shaft to itself`);
    if (coupling.kind === 'gears') {
      for (const teeth of [coupling.drivingTeeth, coupling.drivenTeeth]) {
        if (!Number.isInteger(teeth) || teeth < 5)
          mistakes.push(`${coupling.name}: ${teeth} is no number of teeth`);
      }
    }
    if (coupling.kind === 'ratio') {
      const ratios = typeof coupling.ratio === 'number' ? [coupling.ratio] : Object.values(coupling.ratio);
      if (ratios.length === 0) mistakes.push(`${coupling.name} has no ratio`);
      for (const ratio of ratios) {
        if (!(ratio > 0 && Number.isFinite(ratio))) mistakes.push(`${coupling.name}: ${ratio} is no ratio`);
      }
    }
  }
  for (const part of train.parts) {
    need(part.shaft, part.name);
    if (part.kind === 'bearing' && part.otherShaft !== undefined) need(part.otherShaft, part.name);
    if (part.kind === 'blades' && !(Number.isInteger(part.count) && part.count >= 2)) {
      mistakes.push(`${part.name}: ${part.count} is no number of blades`);
    }
    if (part.kind === 'wheel' && !(part.circumferenceM > 0)) {
      mistakes.push(`${part.name}: the circumference must be over 0 m`);
    }
  }
  return mistakes;
}
