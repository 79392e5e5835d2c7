import { decodeLiveDataText } from '../../../collector/index.ts';
import type { VehicleQuantity, VehicleSample } from '../../contract/runs.ts';
import { Refusal } from '../errors.ts';
import type { VehicleValue } from '../records/vehicle-values.ts';

/** The values of a sample; those that stand in an answer of the diagnostic connector are decoded. */
export function valuesOf(sample: VehicleSample, nowMs: number): VehicleValue[] {
  const { atMs = nowMs, answer, ...plain } = sample;
  const values = Object.entries(plain).map(
    ([quantity, value]): VehicleValue => ({ quantity: quantity as VehicleQuantity, atMs, value }),
  );
  if (answer === undefined) return values;
  try {
    for (const { quantity, value } of decodeLiveDataText(answer)) values.push({ quantity, atMs, value });
  } catch (cause) {
    throw new Refusal('VEHICLE_DATA_REFUSED', { message: (cause as Error).message, field: 'answer', cause });
  }
  return values;
}
