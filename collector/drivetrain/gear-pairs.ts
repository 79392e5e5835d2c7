import type { DriveTrain } from './model.ts';
import type { ShaftSpeeds } from './speeds.ts';

/** A gear pair at its present speeds. */
export interface RunningGearPair {
  name: string;
  /** Teeth x shaft speed. */
  meshHz: number;
  shafts: { name: string; hz: number }[];
}

/** The gear pairs of a drive train that turn, as the mesh analysis asks for them. */
export function runningGearPairs(train: DriveTrain, speeds: ShaftSpeeds): RunningGearPair[] {
  return train.couplings.flatMap((coupling): RunningGearPair[] => {
    if (coupling.kind !== 'gears') return [];
    const driving = speeds.hz.get(coupling.driving) ?? 0;
    const driven = speeds.hz.get(coupling.driven) ?? 0;
    if (!(driving > 0 && driven > 0)) return [];
    const shafts = [
      { name: coupling.driving, hz: driving },
      { name: coupling.driven, hz: driven },
    ];
    return [{ name: coupling.name, meshHz: coupling.drivingTeeth * driving, shafts }];
  });
}
