import type { LevelTable } from '../trend/index.ts';
import { csvRows, type CsvRow as Row, toNumber, withZone } from './csv-rows.ts';

export interface LevelTableChoice {
  /** Heading of the column with the time; left out: the first one. */
  time?: string;
  /** Headings of the levels; left out: all other columns. */
  columns?: readonly string[];
  /** Heading of the column that names the condition of a row. */
  condition?: string;
}

/** Bad table: which line, what, what to do. */
export class LevelTableError extends Error {
  constructor(line: number, what: string) {
    super(`line ${line}: ${what}`);
    this.name = 'LevelTableError';
  }
}

/**
 * Reads levels over time from CSV (RFC 4180): a line of headings, then one row an instant. Separator comma, semicolon
 * or tab; with the latter two a comma may be the decimal mark. Times are ISO 8601 (UTC where no zone is given), Unix
 * seconds or milliseconds, or seconds from the start. An empty cell is no value. Rows may be in any order.
 *
 * @throws LevelTableError naming line and column
 */
export function parseLevelTable(text: string, choice: LevelTableChoice = {}): LevelTable {
  const { delimiter, head, body } = readRows(text);
  const at = (heading: string): number => {
    const found = head.cells.indexOf(heading);
    if (found >= 0) return found;
    throw new LevelTableError(head.line, `no column '${heading}'; there are: ${head.cells.join(', ')}`);
  };
  const timeAt = choice.time === undefined ? 0 : at(choice.time);
  const binAt = choice.condition === undefined ? null : at(choice.condition);
  const chosen =
    choice.columns?.map(at) ?? head.cells.map((_, c) => c).filter((c) => c !== timeAt && c !== binAt);
  if (chosen.length === 0) throw new LevelTableError(head.line, 'no column of levels beside the time');
  const rows = body
    .map((row) => ({ ...row, timeMs: timeOf(row, timeAt, delimiter) }))
    .sort((a, b) => a.timeMs - b.timeMs);
  return {
    timeMs: rows.map(({ timeMs }) => timeMs),
    columns: chosen.map((c) => ({
      name: head.cells[c]!,
      values: rows.map((row) => levelOf(row, c, head.cells[c]!, delimiter)),
    })),
    bins: binAt === null ? null : rows.map(({ cells }) => cells[binAt] || null),
  };
}

function readRows(text: string): { delimiter: string; head: Row; body: Row[] } {
  const { delimiter, rows } = csvRows(text, (line, what) => new LevelTableError(line, what));
  const [head, ...body] = rows;
  if (head === undefined || body.length === 0)
    throw new LevelTableError(1, 'a line of headings and at least one row are needed');
  const odd = body.find(({ cells }) => cells.length !== head.cells.length);
  if (odd !== undefined) {
    throw new LevelTableError(
      odd.line,
      `${odd.cells.length} cells where the headings name ${head.cells.length}; check separator and quotes`,
    );
  }
  return { delimiter, head, body };
}

/** Unix milliseconds of 1973: smaller numbers are seconds, since 1970 or since the start. */
const UNIX_MILLIS_FROM = 1e11;
/** The last instant that a date can hold. */
const LATEST_MS = 8.64e15;

/** Unix milliseconds of a cell; NaN where it is no time. */
export function tableTimeMs(cell: string, delimiter = ','): number {
  const plain = toNumber(cell, delimiter);
  if (Number.isNaN(plain)) return Date.parse(withZone(cell));
  const timeMs = plain >= UNIX_MILLIS_FROM ? plain : plain * 1000;
  return Math.abs(timeMs) <= LATEST_MS ? timeMs : Number.NaN;
}

function timeOf({ line, cells }: Row, at: number, delimiter: string): number {
  const cell = cells[at]!;
  const timeMs = tableTimeMs(cell, delimiter);
  if (Number.isFinite(timeMs)) return timeMs;
  throw new LevelTableError(
    line,
    `"${cell.slice(0, 40)}" is no time; write 2026-05-01T10:00:00Z, Unix seconds, or seconds from the start`,
  );
}

function levelOf({ line, cells }: Row, at: number, heading: string, delimiter: string): number | null {
  const cell = cells[at]!;
  if (cell === '' || /^nan$/i.test(cell)) return null;
  const value = toNumber(cell, delimiter);
  if (!Number.isNaN(value)) return value;
  throw new LevelTableError(
    line,
    `column ${heading}: "${cell.slice(0, 30)}" is no number; choose columns with --columns, or leave the cell empty`,
  );
}
