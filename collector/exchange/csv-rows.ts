import { type CsvError, type Info, parse } from 'csv-parse/sync';

export interface CsvRow {
  line: number;
  cells: string[];
}

/**
 * Rows of a table that people or other programs wrote: separator comma, semicolon or tab, whichever the first line has.
 * Lines that begin with # and empty ones are left out.
 *
 * @param fail makes the error that is thrown, from a line number and what is wrong there
 */
export function csvRows(
  text: string,
  fail: (line: number, what: string) => Error,
): { delimiter: string; rows: CsvRow[] } {
  const plain = text.replace(/^\uFEFF/, '');
  const first = plain.split(/\r?\n/).find((line) => line.trim() !== '' && !line.startsWith('#')) ?? '';
  const delimiter = [';', '\t', ','].find((one) => first.includes(one)) ?? ',';
  try {
    const records = parse(plain, {
      delimiter,
      comment: '#',
      comment_no_infix: true,
      skip_empty_lines: true,
      relax_column_count: true,
      trim: true,
      info: true,
    }) as unknown as { info: Info; record: string[] }[];
    return { delimiter, rows: records.map(({ info, record }) => ({ line: info.lines, cells: record })) };
  } catch (error) {
    const { lines, message } = error as CsvError & { lines?: number };
    throw fail(lines ?? 1, `the line is not well-formed: ${message}`);
  }
}

/** A date and time without a zone would mean another instant on every computer: read as UTC. */
export function withZone(cell: string): string {
  const iso = cell.replace(' ', 'T').replace(/(T[\d:.]+),(\d)/, '$1.$2');
  return /(Z|[+-]\d\d:?\d\d)$/i.test(iso) || !iso.includes('T') ? iso : `${iso}Z`;
}

/**
 * NaN where the cell is not a number through and through: "12abc" must not read as 12. A comma is the decimal mark
 * where it is not the separator.
 */
export function toNumber(cell: string, delimiter: string): number {
  const text = delimiter === ',' ? cell : cell.replace(',', '.');
  return /^[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?$/i.test(text) ? Number(text) : Number.NaN;
}
