import { AXIS_NAMES, type AxisName } from '../../../firmware-protocol/index.ts';
import { packAxes } from '../reading-row.ts';
import type { RollupRow } from '../rollup-row.ts';
import { FIELD, HIGHEST, LEVELS, SUFFIX, splitNames, VALUE_FIELDS } from './layout.ts';
import type { Point } from './point-gatherer.ts';

/** The row of a minute or hour that its points were made of; null when the point of the whole is missing. */
export function rollupOf(level: 'minute' | 'hour', { ms, axes }: Point): RollupRow | null {
  const head = axes.get(HIGHEST);
  if (head === undefined || !head.has(FIELD.count)) return null;
  const names = splitNames<AxisName>(String(head.get(FIELD.axes) ?? '')).filter((axis) =>
    AXIS_NAMES.includes(axis),
  );
  const packed = Buffer.allocUnsafe(12 * VALUE_FIELDS.length * (names.length + 1));
  let at = 0;
  for (const axis of [...names, HIGHEST]) {
    const fields = axes.get(axis);
    for (const name of VALUE_FIELDS) {
      for (const suffix of ['', SUFFIX.minimum, SUFFIX.maximum]) {
        at = packed.writeFloatLE(Number(fields?.get(name + suffix) ?? Number.NaN), at);
      }
    }
  }
  return {
    slot: ms / (LEVELS[level].lengthS * 1000),
    count: Number(head.get(FIELD.count)),
    flagged: Number(head.get(FIELD.flagged) ?? 0),
    axes: packAxes(names),
    packed,
  };
}
