/**
 * What runs came to, condition by condition, so that a fleet of many sites can be compared like with like. Measurement
 * `run_level`: one point for each condition of a run (or of a day of a machine) at one location, at its begin.
 *
 * Tags: `site`, `asset`, `location` (the numbers that readings are tagged with) and `condition`, the name of the bin of
 * speed, load and gear, or the manoeuvre. Readings themselves carry no condition: it is known only when the run is
 * over and all its vehicle data are in, and a tag that changes would make another point of the same second.
 *
 * Fields: `kind` (road, lift, bench, or day), `end_s`, `readings`, `left_out` (1: a person keeps the run out of trends)
 * and for each value its median over the run under the name it has in readings, `_mad` (median absolute deviation,
 * unscaled) and `_median_sd` (standard error of the median). A value is absent when there is too little of it.
 */
import { escape as inLine } from '@influxdata/influxdb-client';
import { VALUE_FIELDS } from './layout.ts';

const LEVEL_MEASUREMENT = 'run_level';

export interface LevelPoint {
  /** Grows with every change at the station. */
  id: number;
  asset: string;
  location: string;
  condition: string;
  kind: string;
  fromMs: number;
  toMs: number;
  readings: number;
  isLeftOut: boolean;
  /** In the order of VALUE_FIELDS. */
  values: { median: number | null; mad: number | null; medianSd: number | null }[];
}

export function levelLine(site: string, point: LevelPoint): string {
  const { asset, location, condition, kind, fromMs, toMs, readings, isLeftOut, values } = point;
  const tags = [
    `asset=${inLine.tag(asset)}`,
    `condition=${inLine.tag(tagText(condition))}`,
    `location=${inLine.tag(location)}`,
    `site=${inLine.tag(site)}`,
  ];
  const number = (name: string, of: number | null) =>
    of === null || !Number.isFinite(of) ? [] : [`${name}=${Number(of.toPrecision(9))}`];
  const fields = [
    `kind=${inLine.quoted(kind)}`,
    `end_s=${Math.floor(toMs / 1000)}i`,
    `readings=${readings}i`,
    `left_out=${isLeftOut ? 1 : 0}i`,
    ...values.flatMap(({ median, mad, medianSd }, i) => [
      ...number(VALUE_FIELDS[i]!, median),
      ...number(`${VALUE_FIELDS[i]!}_mad`, mad),
      ...number(`${VALUE_FIELDS[i]!}_median_sd`, medianSd),
    ]),
  ];
  return `${LEVEL_MEASUREMENT},${tags.join(',')} ${fields.join(',')} ${Math.floor(fromMs / 1000)}`;
}

/** No line breaks, no empty text, and no backslash at the end, which would escape what follows. */
function tagText(text: string): string {
  return (
    text
      .replace(/\s+/g, ' ')
      .trim()
      .replace(/[\\ ]+$/, '') || '-'
  );
}
