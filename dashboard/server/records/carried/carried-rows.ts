import { type Database, SqliteError, type Statement } from 'better-sqlite3';
import { Value } from 'typebox/value';
import { NameOfNothing, type NumberOf, renumbered } from './numbers.ts';
import { CARRIED_TABLES, type CarriedTable } from './tables.ts';

type Row = Record<string, unknown>;
/** A row that another station cannot have written, or not whole. */
export class CarriedRowError extends Error {
  constructor(table: string, what: string) {
    super(`table ${table}: ${what}`);
    this.name = 'CarriedRowError';
  }
}

export type Taken = 'added' | 'there already' | 'left out';

/** What is known of an asset beyond its places, as rows that another station can take in. */
export interface CarriedRows {
  /** Names of the tables, in the order in which they must be taken in. */
  readonly tables: readonly string[];
  /** Rows of a table; locations are told by their place in `locationIds`. */
  rows(table: string, assetId: number, locationIds: readonly number[]): Generator<Row>;
  /** Begins to take rows in for an asset that is there; locations as in `rows`. */
  taking(assetId: number, locationIds: readonly number[]): Taking;
  /** All of the work is kept, or nothing. */
  together<T>(work: () => Promise<T>): Promise<T>;
}

export interface Taking {
  /**
   * A row that is there already is left as it is. @throws CarriedRowError when the row is none of this table, or
   * names a record that never came
   */
  take(table: string, row: unknown): Taken;
  /** The number that a record of the archive has here. */
  numberOf(table: string, number: number): number | undefined;
}

export function createCarriedRows(db: Database, now: () => number, changed: () => void): CarriedRows {
  const tables = new Map(CARRIED_TABLES.map((table) => [table.name, table]));
  return {
    tables: [...tables.keys()],
    *rows(name, assetId, locationIds) {
      const places = new Map(locationIds.map((id, place) => [id, place]));
      const table = tables.get(name)!;
      for (const row of db.prepare(selectOf(table)).iterate({ assetId, nowMs: now() }) as Iterable<Row>) {
        for (const column of table.json ?? [])
          if (row[column] !== null) row[column] = JSON.parse(row[column] as string);
        try {
          const numberOf: NumberOf = (of, number) => (of === 'locations' ? places.get(number) : number);
          yield renumbered(row, numberOf, table.numbers);
        } catch (error) {
          // It speaks of a location that was removed since.
          if (!(error instanceof NameOfNothing)) throw error;
        }
      }
    },
    taking: (assetId, locationIds) => takingOf(db, tables, assetId, locationIds),
    async together(work) {
      db.exec('BEGIN IMMEDIATE');
      try {
        const result = await work();
        db.exec('COMMIT');
        changed();
        return result;
      } catch (error) {
        db.exec('ROLLBACK');
        throw error;
      }
    },
  };
}

function selectOf({ name, of, row, as = {}, same }: CarriedTable): string {
  const columns = Object.keys(row.properties).map((column) => `${as[column] ?? column} AS ${column}`);
  return `SELECT ${columns.join(', ')} FROM ${name} WHERE ${of} ORDER BY ${same.join(', ')}`;
}

interface Statements {
  find: Statement;
  insert: Statement;
  unless: Statement | null;
}

function statementsOf(db: Database, { name, row, same, set = {}, unless }: CarriedTable): Statements {
  const own = Object.keys(row.properties).filter((column) => column !== 'id');
  const columns = [...own, ...Object.keys(set), ...(same.includes('asset_id') ? ['asset_id'] : [])];
  const key = same.map((column) => `${column} IS @${column}`).join(' AND ');
  return {
    find: db.prepare(`SELECT ${'id' in row.properties ? 'id' : '1'} FROM ${name} WHERE ${key}`).pluck(),
    insert: db.prepare(
      `INSERT INTO ${name} (${columns.join(', ')}) VALUES (${columns.map((one) => `@${one}`).join(', ')})`,
    ),
    unless: unless === undefined ? null : db.prepare(`SELECT 1 WHERE ${unless}`).pluck(),
  };
}

function takingOf(
  db: Database,
  tables: ReadonlyMap<string, CarriedTable>,
  assetId: number,
  locationIds: readonly number[],
): Taking {
  const numbers = new Map<string, Map<number, number>>([
    ['locations', new Map(locationIds.map((id, place) => [place, id]))],
  ]);
  const prepared = new Map<string, Statements>();
  const numberOf = (table: string, number: number) => numbers.get(table)?.get(number);

  function own(table: CarriedTable, told: unknown): Row {
    const bad = (what: string) => new CarriedRowError(table.name, what);
    if (typeof told !== 'object' || told === null || Array.isArray(told)) throw bad('a row is no object');
    try {
      const row = renumbered(told as Row, numberOf, table.numbers);
      if (Value.Check(table.row, row)) return row;
      const [first] = Value.Errors(table.row, row);
      throw bad(`${first?.instancePath ?? ''} ${first?.message ?? 'is not as it must be'}`);
    } catch (error) {
      if (error instanceof NameOfNothing) throw bad(`it names ${error.message}, which is not in the archive`);
      throw error;
    }
  }

  return {
    numberOf,
    take(name, told) {
      const table = tables.get(name);
      if (table === undefined) throw new CarriedRowError(name, 'is not known here');
      const { id, ...row } = own(table, told);
      for (const column of table.json ?? [])
        if (row[column] !== null) row[column] = JSON.stringify(row[column]);
      const values: Row = { ...row, ...table.set, asset_id: assetId };
      let statements = prepared.get(name);
      if (statements === undefined) {
        statements = statementsOf(db, table);
        prepared.set(name, statements);
      }
      const known = statements.find.get(values) as number | undefined;
      if (known === undefined && statements.unless?.get(values) !== undefined) return 'left out';
      const number = known ?? insert(name, statements.insert, values);
      if (id !== undefined) {
        if (!numbers.has(name)) numbers.set(name, new Map());
        numbers.get(name)!.set(id as number, number);
      }
      return known === undefined ? 'added' : 'there already';
    },
  };
}

function insert(table: string, statement: Statement, values: Row): number {
  try {
    return Number(statement.run(values).lastInsertRowid);
  } catch (error) {
    // A law of the table is broken: it is not the station's fault.
    if (error instanceof SqliteError && error.code.startsWith('SQLITE_CONSTRAINT'))
      throw new CarriedRowError(table, error.message);
    throw error;
  }
}
