import { fixedSets } from '../../../collector/index.ts';
import type { DriveTrain } from '../../contract/drive-train.ts';
import { trainModel } from '../findings/train-model.ts';

/** Turns of the gearbox's input per turn of its output in a gear as the vehicle tells it; null where the train does not say. */
export function gearRatioOf(train: DriveTrain): (gear: string) => number | null {
  const { turbineSpeedRpm, engineSpeedRpm, outputSpeedRpm } = train.vehicleSpeeds;
  const input = turbineSpeedRpm ?? engineSpeedRpm;
  if (input === undefined || outputSpeedRpm === undefined) return () => null;
  const model = trainModel(train);
  const known = new Map<string, number | null>();
  const ratioIn = (gear: string): number | null => {
    const set = fixedSets(model, gear).find(({ shafts }) => shafts.some(({ name }) => name === input));
    const orderOf = (shaft: string) => set?.shafts.find(({ name }) => name === shaft)?.order;
    const [from, to] = [orderOf(input), orderOf(outputSpeedRpm)];
    return from === undefined || to === undefined ? null : from / to;
  };
  return (gear) => {
    if (!known.has(gear)) known.set(gear, ratioIn(gear));
    return known.get(gear) ?? null;
  };
}
