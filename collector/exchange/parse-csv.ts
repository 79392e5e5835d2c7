import type { Readable } from 'node:stream';
import { parse } from 'csv-parse';
import { AXIS_NAMES, type AxisName, NODE_ID_PATTERN } from '../../firmware-protocol/index.ts';
import type { AxisValues, Flag } from '../model.ts';
import { ADDED_FIELDS, LEVELS, type LevelName, VALUE_FIELDS } from '../store/influx/layout.ts';
import { ADDED, FLAG_NAMES, packAxes, VALUES } from '../store/reading-row.ts';
import { COLUMNS } from './csv-columns.ts';
import { type Parsed, unreadable } from './parsed.ts';

type Cells = Record<string, string>;

interface Group {
  key: string;
  line: number;
  rows: Cells[];
}

const OPTIONS = {
  bom: true,
  info: true,
  skip_empty_lines: true,
  // A line without an end would be gathered until there is no memory left.
  max_record_size: 100_000,
} as const;

/** Readings, minutes or hours out of CSV as export writes it; the lines of one time must follow one another. */
export async function* parseCsv(input: Readable): AsyncGenerator<Parsed> {
  const parser = input.pipe(parse({ ...OPTIONS, columns: checkHeader }));
  input.on('error', (error) => parser.destroy(error));
  let group = null as Group | null;
  try {
    for await (const { record, info } of parser as AsyncIterable<{
      record: Cells;
      info: { lines: number };
    }>) {
      const key = `${record['node']} ${record['sensor']} ${record['time']} ${record['level']}`;
      if (group?.key !== key) {
        if (group !== null) yield parsedOf(group);
        group = { key, line: info.lines, rows: [] };
      }
      group.rows.push(record);
    }
  } catch (error) {
    const { code, lines = 0, message } = error as { code?: string; lines?: number; message: string };
    throw code?.startsWith('CSV_') ? unreadable(lines, message) : error;
  }
  if (group !== null) yield parsedOf(group);
}

function checkHeader(header: string[]): string[] {
  const needed = header.includes('level') ? COLUMNS.minute : COLUMNS.second;
  const missing = needed.filter((name) => !header.includes(name));
  if (missing.length > 0) throw unreadable(1, `these columns are missing: ${missing.join(', ')}`);
  return header;
}

function parsedOf({ rows, line }: Group): Parsed {
  const first = rows[0]!;
  const number = (cells: Cells, name: string): number => {
    const value = Number(cells[name]);
    if (cells[name] === '' || !Number.isFinite(value)) {
      throw unreadable(line, `${name} is '${cells[name]}', no number`);
    }
    return value;
  };
  const orNull = (cells: Cells, name: string) => (cells[name] === '' ? null : number(cells, name));
  const nodeId = first['node']!;
  if (!NODE_ID_PATTERN.test(nodeId)) throw unreadable(line, `'${nodeId}' is no node identity`);
  const sensor = { nodeId, sensor: number(first, 'sensor') };
  const startMs = Date.parse(first['time']!);
  const level = (first['level'] ?? 'second') as LevelName;
  if (!(level in LEVELS)) throw unreadable(line, `there is no level '${level}'`);
  if (!Number.isInteger(startMs / 1000 / LEVELS[level].lengthS)) {
    throw unreadable(line, `'${first['time']}' is not the begin of a ${level}`);
  }
  if (level !== 'second') {
    return {
      level,
      sensor,
      row: rollup(rows, startMs / 1000 / LEVELS[level].lengthS, { number, orNull, line }),
    };
  }

  const axes = rows.map((cells) => {
    const values = VALUES.map((name, index) => [name, orNull(cells, VALUE_FIELDS[index]!)]);
    const added = ADDED.map((name, index) => [name, ADDED_FIELDS[index]!] as const);
    // Readings of earlier versions do not have these for any axis.
    const known = added.filter(([, column]) => rows.some((row) => row[column] !== ''));
    return Object.fromEntries([
      ['axis', axisOf(cells, line)],
      ...values,
      ...known.map(([name, column]) => [name, orNull(cells, column)]),
    ]) as unknown as AxisValues;
  });
  const flags = first['flags'] === '' ? [] : first['flags']!.split(' ');
  const strange = flags.find((flag) => !FLAG_NAMES.includes(flag as Flag));
  if (strange !== undefined) throw unreadable(line, `there is no flag '${strange}'`);
  const uncertainty = first['time_uncertainty_ms'];
  return {
    level: 'second',
    sensor,
    reading: {
      ...sensor,
      startMs,
      durationS: number(first, 'duration_s'),
      sampleRateHz: number(first, 'sample_rate_hz'),
      bandHz: [number(first, 'band_low_hz'), number(first, 'band_high_hz')],
      axes,
      flags: flags as Flag[],
      ...(uncertainty === ''
        ? {}
        : { timeUncertaintyMs: uncertainty === 'unknown' ? null : number(first, 'time_uncertainty_ms') }),
    },
  };
}

function axisOf(cells: Cells, line: number): AxisName {
  const axis = cells['axis'] as AxisName;
  if (!AXIS_NAMES.includes(axis)) throw unreadable(line, `there is no axis '${axis}'`);
  return axis;
}

function rollup(
  rows: readonly Cells[],
  slot: number,
  read: {
    number(cells: Cells, name: string): number;
    orNull(cells: Cells, name: string): number | null;
    line: number;
  },
) {
  const last = rows.at(-1)!;
  if (last['axis'] !== 'highest') throw unreadable(read.line, "the line of axis 'highest' does not follow");
  const axes = rows.slice(0, -1).map((cells) => axisOf(cells, read.line));
  const packed = Buffer.allocUnsafe(12 * VALUES.length * rows.length);
  let at = 0;
  for (const cells of rows) {
    for (const name of VALUE_FIELDS) {
      for (const suffix of ['', '_min', '_max']) {
        at = packed.writeFloatLE(read.orNull(cells, name + suffix) ?? Number.NaN, at);
      }
    }
  }
  return {
    slot,
    count: read.number(last, 'count'),
    flagged: read.number(last, 'flagged'),
    axes: packAxes(axes),
    packed,
  };
}
