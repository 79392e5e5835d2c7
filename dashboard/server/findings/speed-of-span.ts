import { fixedSets, shaftSpeeds, tyreCircumferenceM, wheelHz } from '../../../collector/index.ts';
import type { DriveTrain } from '../../contract/drive-train.ts';
import type { VehicleSeries } from '../../contract/runs.ts';
import { trainModel } from './train-model.ts';

export interface SpanSpeed {
  source: 'typed' | 'nominal' | 'vehicle' | 'none';
  /** Mean speeds of all shafts that follow, turns per second. */
  hzOf: ReadonlyMap<string, number>;
  /** Of the shaft asked for, over event time, where it varies. */
  varying?: { timeMs: number[]; hz: number[] };
}

const UNKNOWN: SpanSpeed = { source: 'none', hzOf: new Map() };
/** A speed that stays within this of its mean counts as steady: lines then stay within the slip allowed to them. */
const STEADY = 0.005;
const TOLD = ['outputSpeedRpm', 'turbineSpeedRpm', 'engineSpeedRpm', 'roadSpeedKmH'] as const;

/** The speed of `shaft` over a span: as typed in, else as the vehicle told, else the machine's own. */
export function speedOfSpan(
  train: DriveTrain,
  shaft: string | null,
  typedRpm: number | undefined,
  told: readonly VehicleSeries[],
): SpanSpeed {
  if (shaft === null || !train.shafts.includes(shaft)) {
    // Without a drive train a typed speed still is the speed of what turns there.
    return typedRpm === undefined ? UNKNOWN : { source: 'typed', hzOf: new Map([['', typedRpm / 60]]) };
  }
  const model = trainModel(train);
  const follow = (of: string, hz: number, gear?: string) => shaftSpeeds(model, [{ shaft: of, hz }], gear).hz;
  if (typedRpm !== undefined) return { source: 'typed', hzOf: follow(shaft, typedRpm / 60) };
  const gear = steadyGear(told);
  for (const quantity of TOLD) {
    const series = told.find((candidate) => candidate.quantity === quantity);
    const of = quantity === 'roadSpeedKmH' ? train.tyre?.shaft : train.vehicleSpeeds[quantity];
    if (series === undefined || series.value.length === 0 || of === undefined) continue;
    const set = fixedSets(model, gear).find(({ shafts }) => shafts.some(({ name }) => name === of));
    const orderOf = (name: string) => set?.shafts.find((member) => member.name === name)?.order;
    const [own, wanted] = [orderOf(of), orderOf(shaft)];
    if (own === undefined || wanted === undefined) continue;
    const circumferenceM = train.tyre === null ? 0 : tyreCircumferenceM(train.tyre.size);
    const toHz = (value: number) =>
      quantity === 'roadSpeedKmH' ? wheelHz(value, circumferenceM) : value / 60;
    const hz = series.value.map((value) => (toHz(value) * wanted) / own);
    const mean = hz.reduce((sum, value) => sum + value, 0) / hz.length;
    const steady = hz.every((value) => Math.abs(value - mean) <= STEADY * mean);
    return {
      source: 'vehicle',
      hzOf: follow(shaft, mean, gear),
      ...(steady ? {} : { varying: { timeMs: series.atMs, hz } }),
    };
  }
  if (train.nominalSpeedRpm === null) return UNKNOWN;
  return { source: 'nominal', hzOf: follow(train.shafts[0]!, train.nominalSpeedRpm / 60) };
}

/** The gear, when it was the same throughout: while it changes, the two sides of the gearbox are apart. */
export function steadyGear(told: readonly VehicleSeries[]): string | undefined {
  const gears = new Set(told.find(({ quantity }) => quantity === 'gear')?.value);
  return gears.size === 1 ? String([...gears][0]) : undefined;
}
