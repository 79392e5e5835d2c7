import { csvRows, type CsvRow as Row, toNumber, withZone } from '../exchange/csv-rows.ts';
import { QUANTITIES, type Quantity, TIME_UNITS } from './quantities.ts';

export interface RecordedColumn {
  /** As the file calls it, without the unit. */
  name: string;
  quantity: Quantity;
  /** Unit of `values`: the quantity's own, or the file's for other quantities. */
  unit: string;
  /** One per row; NaN where the file has an empty cell. */
  values: Float64Array;
}

export interface RecordedData {
  /** Seconds from the first row. */
  timeS: Float64Array;
  /** Unix milliseconds of the first row where the file gives dates, else null. */
  startMs: number | null;
  columns: RecordedColumn[];
}

/** Bad file: which line, which column, what to do. */
export class RecordedDataError extends Error {
  readonly line: number;
  constructor(line: number, what: string) {
    super(`line ${line}: ${what}`);
    this.name = 'RecordedDataError';
    this.line = line;
  }
}

/**
 * Reads recorded data from CSV text: a first line of names with units in brackets ("time [s], engine speed [rpm],
 * road speed [km/h]"), then one line per instant. The separator is a comma, semicolon or tab; with the latter two a
 * comma may be the decimal mark. Time is a number with a unit, or a date and time (ISO 8601). Lines that begin with #
 * are left out.
 *
 * @throws RecordedDataError naming line and column
 */
export function parseRecordedData(text: string): RecordedData {
  const { delimiter, rows } = csvRows(text, (line, what) => new RecordedDataError(line, what));
  const header = rows[0];
  if (header === undefined)
    throw new RecordedDataError(1, 'the file is empty; the first line holds the names and units');
  const names = header.cells.map(splitName);
  const timeAt = names.findIndex(({ name }) => /^(time|date|timestamp)\b/.test(name));
  if (timeAt < 0) {
    throw new RecordedDataError(
      header.line,
      `no column is called time; the columns are: ${names.map(({ name }) => name).join(', ')}`,
    );
  }
  const body = rows.slice(1);
  if (body.length === 0)
    throw new RecordedDataError(header.line, 'there are names but no rows of values below them');
  for (const { line, cells } of body) {
    if (cells.length !== names.length) {
      throw new RecordedDataError(
        line,
        `${cells.length} cells where the first line names ${names.length} columns; check the separator and quotes`,
      );
    }
  }
  const time = readTime(body, timeAt, names[timeAt]!.unit, delimiter);
  const columns = names.flatMap(({ name, unit }, c): RecordedColumn[] =>
    c === timeAt ? [] : [readColumn(body, c, name, unit, delimiter, header.line)],
  );
  return { ...time, columns };
}

/** "engine speed [rpm]" or "engine speed (rpm)" -> name and unit, both in lower case. */
function splitName(cell: string): { name: string; unit: string } {
  const match = /^(.*?)\s*(?:\[([^\]]*)\]|\(([^)]*)\))?\s*$/.exec(cell.toLowerCase().replaceAll('_', ' '))!;
  return { name: match[1]!.trim(), unit: (match[2] ?? match[3] ?? '').trim() };
}

function readTime(rows: readonly Row[], at: number, unit: string, delimiter: string) {
  const dated = /\d{4}-\d\d-\d\d/.test(rows[0]!.cells[at]!);
  const scale = TIME_UNITS[unit];
  if (!dated && scale === undefined) {
    throw new RecordedDataError(
      1,
      `time has the unit "${unit}"; write it as time [s], time [ms], or give dates as 2024-05-01T10:00:00Z`,
    );
  }
  const seconds = rows.map(({ line, cells }) => {
    const cell = cells[at]!;
    const value = dated ? Date.parse(withZone(cell)) / 1000 : toNumber(cell, delimiter) * scale!;
    if (!Number.isFinite(value))
      throw new RecordedDataError(
        line,
        `"${cell}" in the time column is no ${dated ? 'date and time' : 'number'}`,
      );
    return value;
  });
  for (let k = 1; k < seconds.length; k++) {
    if (seconds[k]! > seconds[k - 1]!) continue;
    throw new RecordedDataError(
      rows[k]!.line,
      `time ${rows[k]!.cells[at]} does not come after ${rows[k - 1]!.cells[at]} of line ${rows[k - 1]!.line}; sort the rows and remove repeats`,
    );
  }
  return {
    timeS: Float64Array.from(seconds, (value) => value - seconds[0]!),
    startMs: dated ? Math.round(seconds[0]! * 1000) : null,
  };
}

function readColumn(
  rows: readonly Row[],
  at: number,
  name: string,
  unit: string,
  delimiter: string,
  headerLine: number,
): RecordedColumn {
  const kind = QUANTITIES.find((one) => one.name.test(name));
  const convert = kind === undefined ? (value: number) => value : kind.units[unit];
  if (convert === undefined) {
    const known = Object.keys(kind!.units)
      .map((one) => `[${one}]`)
      .join(', ');
    throw new RecordedDataError(
      headerLine,
      `column ${at + 1}, ${name}: unit "${unit}" is not known; use one of ${known}`,
    );
  }
  const values = Float64Array.from(rows, ({ line, cells }) => {
    const cell = cells[at]!;
    if (cell === '') return Number.NaN;
    const value = toNumber(cell, delimiter);
    if (Number.isNaN(value)) {
      throw new RecordedDataError(
        line,
        `column ${at + 1}, ${name}: "${cell.slice(0, 30)}" is no number; leave the cell empty where there is no value`,
      );
    }
    return convert(value);
  });
  return {
    name,
    quantity: kind?.quantity ?? 'other',
    unit: kind === undefined ? unit : (UNIT_NAMES[kind.quantity] ?? ''),
    values,
  };
}

const UNIT_NAMES: Readonly<Partial<Record<Quantity, string>>> = {
  engineSpeedRpm: 'rpm',
  turbineSpeedRpm: 'rpm',
  outputSpeedRpm: 'rpm',
  roadSpeedKmH: 'km/h',
  engineLoadPercent: '%',
  coolantTemperatureC: '°C',
  accelerationMPerS2: 'm/s²',
};
