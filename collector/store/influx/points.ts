import { escape as inLine } from '@influxdata/influxdb-client';
import type { AxisValues, Reading } from '../../model.ts';
import { ADDED, addedCount, unpackAxes, VALUES } from '../reading-row.ts';
import { axisIndex, type RollupRow, stretchAt } from '../rollup-row.ts';
import {
  ADDED_FIELDS,
  ENERGY_VALUES,
  FIELD,
  HIGHEST,
  joinNames,
  LEVELS,
  type LevelName,
  SUFFIX,
  UNCERTAINTY,
  VALUE_FIELDS,
} from './layout.ts';

/** What the points of one sensor are tagged with. */
export interface PointTags {
  site: string;
  nodeId: string;
  sensor: number;
  /** Where the sensor was clamped at that time, if that is known. */
  mount?: { asset: string; location: string } | null;
}

/**
 * Line protocol of one reading: a line an axis and one for the highest.
 *
 * @param leftOut its values do not count in series and rollups
 */
export function readingLines(tags: PointTags, reading: Reading, leftOut: boolean): string[] {
  const seconds = reading.startMs / 1000;
  const suffix = leftOut ? SUFFIX.leftOut : '';
  const lines = reading.axes.map((axis) => {
    const fields = [`${FIELD.leftOut}=${leftOut ? 1 : 0}i`, ...valueFields(axis, suffix)];
    fields.push(...ADDED.flatMap((name, i) => field(ADDED_FIELDS[i]! + suffix, axis[name] ?? null)));
    return line('second', tags, axis.axis, fields, seconds);
  });
  const highest = leftOut
    ? []
    : [...valueFields(highestValues(reading.axes), ''), ...leadingUncertainty(reading.axes)];
  lines.push(
    line(
      'second',
      tags,
      HIGHEST,
      [`${FIELD.leftOut}=${leftOut ? 1 : 0}i`, ...highest, ...head(reading)],
      seconds,
    ),
  );
  return lines;
}

/** Line protocol of one minute or hour. */
export function rollupLines(tags: PointTags, level: 'minute' | 'hour', row: RollupRow): string[] {
  const axes = unpackAxes(row.axes);
  const seconds = row.slot * LEVELS[level].lengthS;
  return [...axes, HIGHEST].map((axis) => {
    const fields = [`${FIELD.count}=${row.count}i`, `${FIELD.flagged}=${row.flagged}i`];
    if (axis === HIGHEST) fields.push(`${FIELD.axes}=${inLine.quoted(joinNames(axes))}`);
    fields.push(...stretchFields(row, axisIndex(row.axes, axis as 'highest')));
    return line(level, tags, axis, fields, seconds);
  });
}

function stretchFields(row: RollupRow, axis: number): string[] {
  return VALUE_FIELDS.flatMap((name, index) => {
    const { value, minimum, maximum } = stretchAt(row.packed, axis, index);
    const fields = [
      ...field(name, value),
      ...field(name + SUFFIX.minimum, minimum),
      ...field(name + SUFFIX.maximum, maximum),
    ];
    if (!ENERGY_VALUES.includes(index)) return fields;
    const used = Number.isNaN(value) ? 0 : row.count - row.flagged;
    const squareSum = used === 0 ? 0 : used * value * value;
    return [...fields, `${name}${SUFFIX.squareSum}=${squareSum}`, `${name}${SUFFIX.used}=${used}i`];
  });
}

function head(reading: Reading): string[] {
  const uncertainty = reading.timeUncertaintyMs;
  return [
    `${FIELD.axes}=${inLine.quoted(joinNames(reading.axes.map((axis) => axis.axis)))}`,
    `${FIELD.flags}=${inLine.quoted(joinNames(reading.flags))}`,
    ...field(FIELD.durationS, reading.durationS),
    ...field(FIELD.sampleRateHz, reading.sampleRateHz),
    ...field(FIELD.bandLowHz, reading.bandHz[0]),
    ...field(FIELD.bandHighHz, reading.bandHz[1]),
    ...field(
      FIELD.timeUncertaintyMs,
      uncertainty === undefined ? UNCERTAINTY.notStated : (uncertainty ?? UNCERTAINTY.timeUnknown),
    ),
    `${FIELD.added}=${addedCount(reading)}i`,
  ];
}

function valueFields(values: Omit<AxisValues, 'axis'>, suffix: string): string[] {
  return VALUES.flatMap((value, index) => field(VALUE_FIELDS[index]! + suffix, values[value]));
}

/** For each value by itself the largest of the axes. */
function highestValues(axes: readonly AxisValues[]): Omit<AxisValues, 'axis'> {
  const highest = (value: (typeof VALUES)[number]) =>
    axes.reduce<number | null>((most, axis) => {
      const own = axis[value];
      return own !== null && (most === null || own > most) ? own : most;
    }, null);
  return Object.fromEntries(VALUES.map((value) => [value, highest(value)])) as unknown as Omit<
    AxisValues,
    'axis'
  >;
}

/** Of the axis whose velocity is the highest. */
function leadingUncertainty(axes: readonly AxisValues[]): string[] {
  const leading = axes.reduce<AxisValues | null>(
    (most, axis) => ((axis.velocityRmsMmPerS ?? -1) > (most?.velocityRmsMmPerS ?? -1) ? axis : most),
    null,
  );
  return field(ADDED_FIELDS[1], leading?.velocityUncertaintyMmPerS ?? null);
}

/** Nine digits: a stored 32-bit number comes back as the same 32 bits. Nothing when there is no number. */
function field(name: string, value: number | null): string[] {
  if (value === null || !Number.isFinite(value)) return [];
  return [`${name}=${Number(value.toPrecision(9))}`];
}

function line(level: LevelName, tags: PointTags, axis: string, fields: string[], seconds: number): string {
  // Tags in the order of their names: the database sorts them otherwise.
  const where = [
    optionalTag('asset', tags.mount?.asset),
    `,axis=${axis}`,
    optionalTag('location', tags.mount?.location),
    `,node=${inLine.tag(tags.nodeId)},sensor=${tags.sensor},site=${inLine.tag(tags.site)}`,
  ];
  return `${LEVELS[level].measurement}${where.join('')} ${fields.join(',')} ${seconds}`;
}

/** An empty value is no tag, and a backslash at its end would escape what follows it. */
function optionalTag(name: string, value: string | undefined): string {
  const text = value?.trim().replace(/\\+$/, '') ?? '';
  return text === '' ? '' : `,${name}=${inLine.tag(text)}`;
}
