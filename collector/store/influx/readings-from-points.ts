import { AXIS_NAMES, type AxisName } from '../../../firmware-protocol/index.ts';
import type { AxisValues, Flag, Reading } from '../../model.ts';
import { ADDED, VALUES } from '../reading-row.ts';
import type { SensorKey } from '../reading-store.ts';
import { ADDED_FIELDS, FIELD, HIGHEST, SUFFIX, splitNames, UNCERTAINTY, VALUE_FIELDS } from './layout.ts';
import type { Fields, Point } from './point-gatherer.ts';

/** The reading that points were made of; null when the point of the whole is still on its way. */
export function readingFrom({ nodeId, sensor }: SensorKey, { ms: startMs, axes }: Point): Reading | null {
  const head = axes.get(HIGHEST);
  return head?.has(FIELD.flags) ? readingOf(nodeId, sensor, startMs, head, axes) : null;
}

function readingOf(
  nodeId: string,
  sensor: number,
  startMs: number,
  head: Fields,
  axes: ReadonlyMap<string, Fields>,
): Reading {
  const flags = splitNames<Flag>(String(head.get(FIELD.flags)));
  const suffix = head.get(FIELD.leftOut) === 1 ? SUFFIX.leftOut : '';
  const names = splitNames<AxisName>(String(head.get(FIELD.axes) ?? ''));
  const added = Number(head.get(FIELD.added) ?? 0);
  const uncertainty = Number(head.get(FIELD.timeUncertaintyMs) ?? UNCERTAINTY.notStated);
  return {
    nodeId,
    sensor,
    startMs,
    durationS: Number(head.get(FIELD.durationS)),
    sampleRateHz: Number(head.get(FIELD.sampleRateHz)),
    bandHz: [Number(head.get(FIELD.bandLowHz)), Number(head.get(FIELD.bandHighHz))],
    axes: names
      .filter((axis) => AXIS_NAMES.includes(axis))
      .map((axis) => valuesOf(axis, axes.get(axis), { suffix, added })),
    flags,
    ...(uncertainty === UNCERTAINTY.notStated
      ? {}
      : { timeUncertaintyMs: uncertainty === UNCERTAINTY.timeUnknown ? null : uncertainty }),
  };
}

function valuesOf(
  axis: AxisName,
  fields: Fields | undefined,
  { suffix, added }: { suffix: string; added: number },
): AxisValues {
  const value = (name: string) => fields?.get(name + suffix) ?? null;
  return Object.fromEntries([
    ['axis', axis],
    ...VALUES.map((name, index) => [name, value(VALUE_FIELDS[index]!)]),
    ...ADDED.slice(0, added).map((name, index) => [name, value(ADDED_FIELDS[index]!)]),
  ]) as unknown as AxisValues;
}
