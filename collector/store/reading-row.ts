import { AXIS_NAMES, type AxisName } from '../../firmware-protocol/index.ts';
import type { AxisValues, Flag, Reading } from '../model.ts';

/** Bit numbers of the stored flags: only ever appended to. */
export const FLAG_NAMES: readonly Flag[] = [
  'clipped',
  'gap',
  'below-noise-floor',
  'band-not-covered',
  'settling',
  'unknown-scale',
  'stuck',
  'time-unknown',
  'rattle',
];

/** Order of the packed values of one axis. */
export const VALUES = [
  'velocityRmsMmPerS',
  'accelerationRmsMPerS2',
  'accelerationPeakMPerS2',
  'crestFactor',
  'kurtosis',
] as const;

/** Flags with which a reading counts but its values are left out of a series and of longer stretches. */
export const LEFT_OUT_FLAGS: readonly Flag[] = [
  'clipped',
  'gap',
  'settling',
  'unknown-scale',
  'stuck',
  'rattle',
];
const LEFT_OUT = maskOf(LEFT_OUT_FLAGS);
/** A reading with one of these gives way to a later one of the same second that has none of them. */
const PROVISIONAL = maskOf(['gap', 'settling', 'time-unknown']);

/** Values kept since later, in that order: they stand behind all that older rows have, told apart by length. */
export const ADDED = ['meanMPerS2', 'velocityUncertaintyMmPerS'] as const;

/** How many of ADDED a reading keeps. */
export function addedCount(reading: Reading): number {
  const last = ADDED.findLastIndex((name) => reading.axes.some((axis) => axis[name] !== undefined));
  return last + 1;
}

const HEAD_FLOATS = 5;
const NOT_STATED = -1;

export interface ReadingRow {
  second: number;
  flags: number;
  axes: number;
  packed: Buffer;
}

function maskOf(flags: readonly Flag[]): number {
  return flags.reduce((mask, flag) => mask | (1 << FLAG_NAMES.indexOf(flag)), 0);
}

export function isLeftOut(mask: number): boolean {
  return (mask & LEFT_OUT) !== 0;
}

export function givesWay(stored: number, offered: number): boolean {
  return (stored & PROVISIONAL) !== 0 && (offered & PROVISIONAL) === 0;
}

/** Axes in their order as one number: base 5, first axis lowest. */
export function packAxes(axes: readonly AxisName[]): number {
  return axes.reduceRight((code, axis) => code * 5 + AXIS_NAMES.indexOf(axis) + 1, 0);
}

export function unpackAxes(code: number): readonly AxisName[] {
  const known = unpacked.get(code);
  if (known !== undefined) return known;
  const axes: AxisName[] = [];
  for (let rest = code; rest > 0; rest = Math.floor(rest / 5)) axes.push(AXIS_NAMES[(rest % 5) - 1]!);
  unpacked.set(code, axes);
  return axes;
}

/** A station has a handful of codes, and a trend asks for one of them tens of thousands of times. */
const unpacked = new Map<number, readonly AxisName[]>();

/** @throws RangeError when the reading does not begin at a whole second */
export function rowOf(reading: Reading): ReadingRow {
  const second = reading.startMs / 1000;
  if (!Number.isSafeInteger(second)) {
    throw new RangeError(`a reading begins at a whole second, not at ${reading.startMs} ms`);
  }
  const added = ADDED.slice(0, addedCount(reading));
  const perAxis = VALUES.length + added.length;
  const packed = Buffer.allocUnsafe(4 * (HEAD_FLOATS + perAxis * reading.axes.length));
  const uncertainty = reading.timeUncertaintyMs;
  const head = [reading.durationS, reading.sampleRateHz, ...reading.bandHz];
  head.push(uncertainty === undefined ? NOT_STATED : (uncertainty ?? Number.NaN));
  let at = 0;
  for (const value of head) at = packed.writeFloatLE(value, at);
  for (const axis of reading.axes) {
    for (const name of VALUES) at = packed.writeFloatLE(axis[name] ?? Number.NaN, at);
  }
  for (const name of added) {
    for (const axis of reading.axes) at = packed.writeFloatLE(axis[name] ?? Number.NaN, at);
  }
  return { second, flags: maskOf(reading.flags), axes: packAxes(reading.axes.map((a) => a.axis)), packed };
}

/** Value number `value` of axis number `axis`; not a number when there is none. */
export function packedValue(packed: Buffer, axis: number, value: number): number {
  return packed.readFloatLE(4 * (HEAD_FLOATS + axis * VALUES.length + value));
}

export function readingOf(nodeId: string, sensor: number, row: ReadingRow): Reading {
  const head = (index: number) => row.packed.readFloatLE(4 * index);
  const names = unpackAxes(row.axes);
  const behind = HEAD_FLOATS + VALUES.length * names.length;
  const added = names.length === 0 ? 0 : (row.packed.length / 4 - behind) / names.length;
  const axes = names.map((axis, index) => {
    const value = (at: number) => orNull(packedValue(row.packed, index, at));
    return Object.fromEntries([
      ['axis', axis],
      ...VALUES.map((name, at) => [name, value(at)]),
      ...ADDED.slice(0, added).map((name, at) => [name, orNull(head(behind + at * names.length + index))]),
    ]) as unknown as AxisValues;
  });
  const uncertainty = head(4);
  return {
    nodeId,
    sensor,
    startMs: row.second * 1000,
    durationS: head(0),
    sampleRateHz: head(1),
    bandHz: [head(2), head(3)],
    axes,
    flags: FLAG_NAMES.filter((_, bit) => (row.flags & (1 << bit)) !== 0),
    ...(uncertainty === NOT_STATED ? {} : { timeUncertaintyMs: orNull(uncertainty) }),
  };
}

function orNull(value: number): number | null {
  return Number.isNaN(value) ? null : value;
}
