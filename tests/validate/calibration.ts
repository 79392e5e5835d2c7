import { type BearingResult, findBearingDefect } from '../../collector/analysis/bearing-defect.ts';
import type { BearingPart } from '../../collector/analysis/bearing-families.ts';
import {
  addDefect,
  foreignPeriodicity,
  healthySignal,
  type Machine,
  randomMachine,
  seededRandom,
} from '../support/machine-signals.ts';

/** How often the bearing rule errs on synthetic machines whose truth is known. */
export interface Counts {
  records: number;
  /** Verdict names a part that is not the one at fault, or any part of a healthy machine. */
  wrong: number;
  right: number;
  notClear: number;
  none: number;
  /** Records with at least one finding. */
  withFinding: number;
}

const empty = (): Counts => ({ records: 0, wrong: 0, right: 0, notClear: 0, none: 0, withFinding: 0 });

function ask(samples: Float64Array, machine: Machine): BearingResult {
  const { rate: sampleRateHz, statedHz: shaftHz, multipliers } = machine;
  return findBearingDefect({ samples, sampleRateHz, shaftHz, multipliers });
}

function count(counts: Counts, { verdict, findings }: BearingResult, truth: BearingPart | 'none'): void {
  counts.records++;
  if (findings.length > 0) counts.withFinding++;
  if (verdict === 'none' || verdict === 'not-covered') counts.none++;
  else if (verdict === 'not-clear') counts.notClear++;
  else if (verdict === truth) counts.right++;
  else counts.wrong++;
}

/** Healthy machines: tones, shaft orders, gear mesh, modulation by the shaft, mains, knocks. */
export function healthyMachines(records: number, firstSeed: number): Counts {
  const counts = empty();
  for (let seed = firstSeed; seed < firstSeed + records; seed++) {
    const random = seededRandom(seed);
    const machine = randomMachine(random);
    count(counts, ask(healthySignal(machine, random), machine), 'none');
  }
  return counts;
}

/**
 * Healthy machines with a foreign swelling at any rate from 0.3 to 8 times the shaft's, two harmonics deep. About one in ten falls
 * on some line of the bearing by accident, and nothing in the signal tells it apart: this shows the limit.
 */
export function foreignMachines(records: number, firstSeed: number): Counts {
  const counts = empty();
  for (let seed = firstSeed; seed < firstSeed + records; seed++) {
    const random = seededRandom(seed);
    const machine = randomMachine(random);
    count(counts, ask(foreignPeriodicity(machine, random).signal, machine), 'none');
  }
  return counts;
}

/** Machines with one local defect, its power `snrDb` beside all else in the record. */
export function faultyMachines(part: BearingPart, snrDb: number, records: number, firstSeed: number): Counts {
  const counts = empty();
  for (let seed = firstSeed; seed < firstSeed + records; seed++) {
    const random = seededRandom(seed);
    const machine = randomMachine(random);
    const defect = {
      part,
      snrDb,
      slip: -0.012 + 0.024 * random(),
      jitter: 10 ** (-3.5 + 2 * random()),
    };
    const signal = addDefect(healthySignal(machine, random), machine, defect, random);
    count(counts, ask(signal, machine), part);
  }
  return counts;
}
