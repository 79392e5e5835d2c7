import { decodeLiveDataText } from '../../../collector/index.ts';
import { type VehicleQuantity, VehicleSample } from '../../contract/runs.ts';
import { Refusal } from '../errors.ts';
import type { VehicleValue } from '../records/vehicle-values.ts';

/** Values may lie this far outside of their run: clocks of adapters differ. */
const BESIDE_MS = 5_000;

/** Those that belong to the run. Throws `SPAN_INVALID` where none does: then the times are of another clock. */
export function valuesOfRun(
  { startMs, endMs }: { startMs: number; endMs: number | null },
  values: readonly VehicleValue[],
  nowMs: number,
): VehicleValue[] {
  const lastMs = (endMs ?? nowMs) + BESIDE_MS;
  const inside = values.filter(({ atMs }) => atMs >= startMs - BESIDE_MS && atMs <= lastMs);
  if (inside.length > 0 || values.length === 0) return inside;
  const time = (ms: number) => new Date(ms).toISOString();
  throw new Refusal('SPAN_INVALID', {
    field: 'atMs',
    message: `None of the values was taken during the run, which lasted from ${time(startMs)} to ${time(endMs ?? nowMs)}; the first is of ${time(values[0]!.atMs)}.`,
  });
}

/** Refuses what cannot be, as the limits of a sample say: a file may hold anything. */
export function checkValue(quantity: VehicleQuantity, value: number, row: number): void {
  const { minimum = Number.NEGATIVE_INFINITY, maximum = Number.POSITIVE_INFINITY } = VehicleSample.properties[
    quantity
  ] as { minimum?: number; maximum?: number };
  if (value >= minimum && value <= maximum) return;
  throw new Refusal('VEHICLE_DATA_REFUSED', {
    message: `Row ${row} of values: ${quantity} ${value} is outside of ${minimum} to ${maximum}.`,
  });
}

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
