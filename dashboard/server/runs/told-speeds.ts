import {
  fixedSets,
  type inquiry,
  smoothSteps,
  tyreCircumferenceM,
  wheelHz,
} from '../../../collector/index.ts';
import type { DriveTrain } from '../../contract/drive-train.ts';
import type { VehicleSeries } from '../../contract/runs.ts';
import { steadyGear } from '../findings/speed-of-span.ts';
import { trainModel } from '../findings/train-model.ts';

type ToldSpeed = inquiry.Question<'orderLock'>['speeds'][number];

/** The finest first: of shafts in one fixed ratio the first one told stands for all. */
const SPEEDS = [
  ['outputSpeedRpm', 'gearbox output'],
  ['turbineSpeedRpm', 'turbine'],
  ['engineSpeedRpm', 'engine'],
  ['roadSpeedKmH', 'road speed'],
] as const;

/** Speeds that a vehicle told during a run, each with the shafts that the drive train hangs on it. */
export function toldSpeeds(train: DriveTrain, told: readonly VehicleSeries[]): ToldSpeed[] {
  const sets = train.shafts.length === 0 ? [] : fixedSets(trainModel(train), steadyGear(told));
  const taken = new Set<unknown>();
  return SPEEDS.flatMap(([quantity, plain]): ToldSpeed[] => {
    const series = told.find((one) => one.quantity === quantity);
    if (series === undefined || series.value.length === 0) return [];
    const shaft = quantity === 'roadSpeedKmH' ? train.tyre?.shaft : train.vehicleSpeeds[quantity];
    const set = sets.find(({ shafts }) => shafts.some(({ name }) => name === shaft));
    if (set !== undefined && taken.has(set)) return [];
    if (set !== undefined) taken.add(set);
    const own = set?.shafts.find(({ name }) => name === shaft)?.order ?? 1;
    return [
      {
        name: shaft ?? plain,
        shafts: (set?.shafts ?? []).map(({ name, order }) => ({ name, order: order / own })),
        per: quantity === 'roadSpeedKmH' && shaft === undefined ? 'metre' : 'turn',
        atMs: series.atMs,
        hz: turnsPerSecond(train, series),
      },
    ];
  });
}

/** Without a tyre, metres per second. */
function turnsPerSecond(train: DriveTrain, { quantity, atMs, value }: VehicleSeries): number[] {
  if (quantity !== 'roadSpeedKmH') return value.map((rpm) => rpm / 60);
  const smooth = value.every(Number.isInteger) ? smoothSteps(atMs, value) : value;
  const circumferenceM = train.tyre === null ? 1 : tyreCircumferenceM(train.tyre.size);
  return smooth.map((kmH) => wheelHz(kmH, circumferenceM));
}
