import { AXIS_NAMES, type AxisName } from '../../../firmware-protocol/index.ts';
import type { AxisValues, Flag, Reading } from '../../model.ts';
import { VALUES } from '../reading-row.ts';
import { FIELD, HIGHEST, SUFFIX, splitNames, UNCERTAINTY, VALUE_FIELDS } from './layout.ts';

/** One field of one point, as a query gives it. */
export interface FieldRow {
  _time: string;
  _field: string;
  _value: number | string;
  axis: string;
}

type Fields = Map<string, number | string>;

/** Gathers the fields of one sensor's points, in any order, into readings. */
export class ReadingGatherer {
  readonly #seconds = new Map<number, Map<string, Fields>>();

  add({ _time, _field, _value, axis }: FieldRow): void {
    const ms = Date.parse(_time);
    let axes = this.#seconds.get(ms);
    if (axes === undefined) {
      axes = new Map();
      this.#seconds.set(ms, axes);
    }
    let fields = axes.get(axis);
    if (fields === undefined) {
      fields = new Map();
      axes.set(axis, fields);
    }
    fields.set(_field, _value);
  }

  /** Oldest first. A second of which the point of the whole reading is missing is still on its way. */
  readings(nodeId: string, sensor: number): Reading[] {
    return [...this.#seconds]
      .sort(([a], [b]) => a - b)
      .flatMap(([startMs, axes]) => {
        const head = axes.get(HIGHEST);
        return head?.has(FIELD.flags) ? [readingOf(nodeId, sensor, startMs, head, axes)] : [];
      });
  }
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
      .map((axis) => valuesOf(axis, axes.get(axis), suffix)),
    flags,
    ...(uncertainty === UNCERTAINTY.notStated
      ? {}
      : { timeUncertaintyMs: uncertainty === UNCERTAINTY.timeUnknown ? null : uncertainty }),
  };
}

function valuesOf(axis: AxisName, fields: Fields | undefined, suffix: string): AxisValues {
  const values = VALUES.map((name, index) => [name, fields?.get(VALUE_FIELDS[index]! + suffix) ?? null]);
  return Object.fromEntries([['axis', axis], ...values]) as unknown as AxisValues;
}
