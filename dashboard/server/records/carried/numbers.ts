/** Columns and JSON keys that hold the number of another record, and of which. */
const COLUMNS: Readonly<Record<string, string>> = {
  location_id: 'locations',
  run_id: 'runs',
  event_id: 'asset_events',
};
const KEYS: Readonly<Record<string, string>> = {
  locationId: 'locations',
  // Locations as a comparison names them.
  leaderId: 'locations',
  firstId: 'locations',
  secondId: 'locations',
  runId: 'runs',
  manoeuvreId: 'manoeuvres',
};

/** The number that a record of a table has on the other side; undefined where there is none. */
export type NumberOf = (table: string, number: number) => number | undefined;

/** A row that names a record which does not exist. */
export class NameOfNothing extends Error {}

/**
 * The row with every number of another record replaced; `columns`: JSON in which every number is one of the table named.
 *
 * @throws NameOfNothing
 */
export function renumbered(
  row: Readonly<Record<string, unknown>>,
  numberOf: NumberOf,
  columns: Readonly<Record<string, string>> = {},
): Record<string, unknown> {
  return Object.fromEntries(
    Object.entries(row).map(([column, value]) => {
      const table = COLUMNS[column];
      if (table !== undefined) return [column, other(table, column, value, numberOf)];
      const listed = columns[column];
      if (listed !== undefined) return [column, everyNumber(value, listed, column, numberOf)];
      return [column, typeof value === 'object' ? inJson(value, numberOf) : value];
    }),
  );
}

function inJson(value: unknown, numberOf: NumberOf): unknown {
  if (Array.isArray(value)) return value.map((one) => inJson(one, numberOf));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value).map(([key, own]) => {
      const table = KEYS[key];
      return [key, table === undefined ? inJson(own, numberOf) : other(table, key, own, numberOf)];
    }),
  );
}

function everyNumber(value: unknown, table: string, column: string, numberOf: NumberOf): unknown {
  if (typeof value === 'number') return other(table, column, value, numberOf);
  if (Array.isArray(value)) return value.map((one) => everyNumber(one, table, column, numberOf));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value).map(([key, own]) => [key, everyNumber(own, table, column, numberOf)]),
  );
}

/** Comparisons write numbers as text. */
function other(table: string, key: string, value: unknown, numberOf: NumberOf): unknown {
  if (value === null || value === undefined) return value;
  const number = Number(value);
  const found = numberOf(table, number);
  if (found === undefined) throw new NameOfNothing(`${key} ${number}`);
  return typeof value === 'string' ? String(found) : found;
}
