import { trend } from '../../../collector/index.ts';
import type { LocationRecord } from '../records/assets.ts';
import type { RecordStore } from '../records/record-store.ts';

/** Words that tell a part on which control of a vehicle hangs. Rather one caution too many than one too few. */
const KINDS: readonly [trend.LocationKind, RegExp][] = [
  [
    'wheel-bearing',
    /\bwheel[\s-]*(bearing|hub|end|carrier)|\bhub([\s-]*(bearing|carrier|unit))?\b|\bknuckle/,
  ],
  ['wheel-bearing', /\bbearing.*\bwheel\b|\bstub axle|\baxle shaft bearing/],
  ['steering', /\bsteering|\btie[\s-]*rod|\btrack[\s-]*rod|\bball[\s-]*joint|\brack\b|\bkingpin|\bpitman/],
  ['brake', /\bbrak(e|es|ing)\b|\bcaliper|\bcalliper|\brotor disc/],
  [
    'structural',
    /\b(control|trailing|wishbone|suspension|lower|upper) arm|\bwishbone|\bsuspension|\bstrut\b/,
  ],
  [
    'structural',
    /\bsub[\s-]*frame|\bchassis|\bframe\b|\bcross[\s-]*member|\bspring (seat|perch|mount)|\bshackle/,
  ],
  ['structural', /\bleaf spring|\bcoil spring|\bspindle\b.*\bwheel|\bwheel stud|\bwheel bolt/],
];

/** The kind of part a location's own words tell of. */
export function kindOfWords(text: string): trend.LocationKind {
  const words = text.toLowerCase();
  return KINDS.find(([, pattern]) => pattern.test(words))?.[0] ?? 'other';
}

/**
 * Kinds of part that a location and what was found there point to. A bearing on the shaft that carries the wheel is a
 * wheel bearing, whatever its location is called. A machine has no wheels to lose, but may have a brake.
 */
export function safetyOf(records: RecordStore, location: LocationRecord): trend.SafetyQuestion {
  const { id, name, component, assetId } = location;
  const told = kindOfWords(`${name} ${component}`);
  if (records.assets.asset(assetId).kind === 'machine')
    return { location: told === 'brake' ? 'brake' : 'machine', findings: [] };
  const train = records.driveTrains.of(assetId);
  const isOnWheelShaft = train.bearings.some(
    ({ locationId, shaft }) => locationId === id && shaft === train.tyre?.shaft,
  );
  return { location: told, findings: isOnWheelShaft ? ['wheel-bearing'] : [] };
}

/** The caution of a location where waiting is not to be weighed; null elsewhere. */
export function safetyCaution(records: RecordStore, location: LocationRecord): string | null {
  return trend.doNotDefer(safetyOf(records, location)) ? trend.DO_NOT_DEFER : null;
}
