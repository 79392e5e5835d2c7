import { LEVELS, type LevelName } from '../store/influx/layout.ts';
import type { Fields } from '../store/influx/point-gatherer.ts';
import { rollupOf } from '../store/influx/points-to-rows.ts';
import { readingFrom } from '../store/influx/readings-from-points.ts';
import { parseProtocolLine } from './line-protocol.ts';
import { type Parsed, unreadable } from './parsed.ts';

/** Digits of a time of our days, by its unit, in milliseconds. */
const UNIT_MS: readonly [digits: number, ms: number][] = [
  [11, 1000],
  [14, 1],
  [17, 1e-3],
  [20, 1e-6],
];

interface Group {
  key: string;
  level: LevelName;
  nodeId: string;
  sensor: number;
  ms: number;
  axes: Map<string, Fields>;
  line: number;
}

/** Readings, minutes and hours out of line protocol; the lines of one time of a sensor must follow one another. */
export async function* parseLines(lines: AsyncIterable<string>): AsyncGenerator<Parsed> {
  let group = null as Group | null;
  let number = 0;
  for await (const text of lines) {
    number++;
    const line = lineOf(text, number);
    if (line === null) continue;
    const level = levelOf(line.measurement, number);
    const [nodeId, sensor, axis] = ['node', 'sensor', 'axis'].map((tag) => line.tags.get(tag));
    if (nodeId === undefined || sensor === undefined || axis === undefined) {
      throw unreadable(number, 'the tags node, sensor and axis are not all there');
    }
    const ms = timeOf(line.timestamp, number);
    const key = `${level} ${nodeId} ${sensor} ${ms}`;
    if (group?.key !== key) {
      if (group !== null) yield parsedOf(group);
      group = { key, level, nodeId, sensor: Number(sensor), ms, axes: new Map(), line: number };
    }
    group.axes.set(axis, line.fields);
  }
  if (group !== null) yield parsedOf(group);
}

function lineOf(text: string, number: number) {
  try {
    return parseProtocolLine(text);
  } catch (error) {
    throw unreadable(number, (error as Error).message);
  }
}

function levelOf(measurement: string, line: number): LevelName {
  for (const [level, known] of Object.entries(LEVELS)) {
    if (known.measurement === measurement) return level as LevelName;
  }
  throw unreadable(line, `measurement '${measurement}' holds no readings`);
}

function timeOf(timestamp: string, line: number): number {
  const unit = UNIT_MS.find(([digits]) => timestamp.length < digits);
  if (!/^\d+$/.test(timestamp) || unit === undefined) throw unreadable(line, `'${timestamp}' is no time`);
  return Math.round(Number(timestamp) * unit[1]);
}

function parsedOf({ level, nodeId, sensor, ms, axes, line }: Group): Parsed {
  const key = { nodeId, sensor };
  if (level === 'second') {
    const reading = readingFrom(key, { ms, axes });
    if (reading !== null) return { level, sensor: key, reading };
  } else {
    const row = rollupOf(level, { ms, axes });
    if (row !== null) return { level, sensor: key, row };
  }
  throw unreadable(
    line,
    "the line of axis 'highest' does not follow: only files of clampline export are read",
  );
}
