import type { AxisName } from '../../firmware-protocol/index.ts';
import { isLeftOut, packAxes, packedValue, type ReadingRow, unpackAxes, VALUES } from './reading-row.ts';

/** Readings of one minute or one hour of one sensor, as one row. */
export interface RollupRow {
  slot: number;
  /** Readings, and how many of them are left out of the values. */
  count: number;
  flagged: number;
  axes: number;
  packed: Buffer;
}

/** One value over a stretch. */
export interface Stretch {
  value: number;
  minimum: number;
  maximum: number;
}

/** How a value of several blocks becomes one: by energy, by the largest, or by the median. */
const COMBINE: readonly ('energy' | 'largest' | 'median')[] = [
  'energy',
  'energy',
  'largest',
  'median',
  'median',
];

/** Gathers blocks (or shorter stretches) into one stretch of one value. */
export class Gather {
  readonly #how: (typeof COMBINE)[number];
  #weight = 0;
  #squares = 0;
  #values: number[] = [];
  #minimum = Number.POSITIVE_INFINITY;
  #maximum = Number.NEGATIVE_INFINITY;

  /** @param value its number in VALUES */
  constructor(value: number) {
    this.#how = COMBINE[value]!;
  }

  add(value: number, minimum: number, maximum: number, weight: number): void {
    if (Number.isNaN(value) || weight === 0) return;
    this.#weight += weight;
    if (this.#how === 'energy') this.#squares += weight * value * value;
    else if (this.#how === 'median') this.#values.push(value);
    if (minimum < this.#minimum) this.#minimum = minimum;
    if (maximum > this.#maximum) this.#maximum = maximum;
  }

  /** Not a number when nothing was added. */
  result(): Stretch {
    if (this.#weight === 0) return { value: Number.NaN, minimum: Number.NaN, maximum: Number.NaN };
    return { value: this.#value(), minimum: this.#minimum, maximum: this.#maximum };
  }

  #value(): number {
    if (this.#how === 'energy') return Math.sqrt(this.#squares / this.#weight);
    if (this.#how === 'largest') return this.#maximum;
    const sorted = this.#values.sort((a, b) => a - b);
    const middle = sorted.length >> 1;
    return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
  }
}

/**
 * The largest of a reading's axes for one value.
 *
 * Values stand as they were packed: 32 bits.
 */
export function highestOf(row: ReadingRow, axisCount: number, value: number): number {
  let highest = Number.NaN;
  for (let axis = 0; axis < axisCount; axis++) {
    const own = packedValue(row.packed, axis, value);
    if (!(own <= highest)) highest = Number.isNaN(own) ? highest : own;
  }
  return highest;
}

/** A minute from its readings. */
export function rollUpReadings(slot: number, rows: readonly ReadingRow[]): RollupRow {
  const build = new RollupBuilder(rows.map((row) => row.axes));
  let flagged = 0;
  for (const row of rows) {
    if (isLeftOut(row.flags)) {
      flagged++;
      continue;
    }
    const axes = unpackAxes(row.axes);
    for (let value = 0; value < VALUES.length; value++) {
      axes.forEach((axis, index) => {
        const own = packedValue(row.packed, index, value);
        build.gather(axis, value).add(own, own, own, 1);
      });
      const highest = highestOf(row, axes.length, value);
      build.gather('highest', value).add(highest, highest, highest, 1);
    }
  }
  return { slot, count: rows.length, flagged, ...build.pack() };
}

/** An hour from its minutes. */
export function rollUpMinutes(slot: number, rows: readonly RollupRow[]): RollupRow {
  const build = new RollupBuilder(rows.map((row) => row.axes));
  let count = 0;
  let flagged = 0;
  for (const row of rows) {
    count += row.count;
    flagged += row.flagged;
    for (const axis of [...unpackAxes(row.axes), 'highest'] as const) {
      const index = axisIndex(row.axes, axis);
      for (let value = 0; value < VALUES.length; value++) {
        const own = stretchAt(row.packed, index, value);
        build.gather(axis, value).add(own.value, own.minimum, own.maximum, row.count - row.flagged);
      }
    }
  }
  return { slot, count, flagged, ...build.pack() };
}

/** Place of an axis in a rolled-up row: 'highest' lies behind the axes; -1 when the row does not have it. */
export function axisIndex(axes: number, axis: AxisName | 'highest'): number {
  const names = unpackAxes(axes);
  return axis === 'highest' ? names.length : names.indexOf(axis);
}

export function stretchAt(packed: Buffer, axis: number, value: number): Stretch {
  const at = 12 * (axis * VALUES.length + value);
  return {
    value: packed.readFloatLE(at),
    minimum: packed.readFloatLE(at + 4),
    maximum: packed.readFloatLE(at + 8),
  };
}

class RollupBuilder {
  readonly #axes: AxisName[];
  readonly #gathers = new Map<string, Gather[]>();

  constructor(axesCodes: readonly number[]) {
    this.#axes = [...new Set([...new Set(axesCodes)].flatMap(unpackAxes))];
    for (const axis of [...this.#axes, 'highest'])
      this.#gathers.set(
        axis,
        VALUES.map((_, v) => new Gather(v)),
      );
  }

  gather(axis: AxisName | 'highest', value: number): Gather {
    return this.#gathers.get(axis)![value]!;
  }

  pack(): { axes: number; packed: Buffer } {
    const packed = Buffer.allocUnsafe(12 * VALUES.length * (this.#axes.length + 1));
    let at = 0;
    for (const gathers of this.#gathers.values()) {
      for (const gather of gathers) {
        const { value, minimum, maximum } = gather.result();
        for (const number of [value, minimum, maximum]) at = packed.writeFloatLE(number, at);
      }
    }
    return { axes: packAxes(this.#axes), packed };
  }
}
