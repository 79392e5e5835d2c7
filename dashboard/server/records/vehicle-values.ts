import type { Database } from 'better-sqlite3';
import type { VehicleQuantity, VehicleSeries } from '../../contract/runs.ts';
import { RecordError } from './record-error.ts';

/** Of one run: seven quantities ten times a second for four hours. */
const MOST_VALUES = 1_000_000;

export interface VehicleValue {
  quantity: VehicleQuantity;
  atMs: number;
  value: number;
}

/** What vehicles said of themselves during runs. */
export interface VehicleValues {
  /** A value of the same quantity and instant takes the place of the one before. Throws `TOO_MANY_RECORDS`. */
  add(runId: number, values: readonly VehicleValue[]): void;
  series(runId: number, fromMs?: number, toMs?: number): VehicleSeries[];
  newest(runId: number): { quantity: VehicleQuantity; count: number; newest: number; newestMs: number }[];
}

export function createVehicleValues(db: Database): VehicleValues {
  const insert = db.prepare(
    `INSERT INTO vehicle_values (run_id, quantity, at_ms, value) VALUES (?, ?, ?, ?)
     ON CONFLICT (run_id, quantity, at_ms) DO UPDATE SET value = excluded.value`,
  );
  const count = db.prepare('SELECT count(*) FROM vehicle_values WHERE run_id = ?').pluck();
  const all = db.prepare(
    `SELECT quantity, at_ms AS atMs, value FROM vehicle_values
     WHERE run_id = ? AND at_ms >= ? AND at_ms < ? ORDER BY quantity, at_ms`,
  );
  const newest = db.prepare(
    // SQLite gives `value` of the row that holds the maximum.
    `SELECT quantity, count(*) AS count, value AS newest, max(at_ms) AS newestMs FROM vehicle_values
     WHERE run_id = ? GROUP BY quantity ORDER BY quantity`,
  );
  return {
    add: db.transaction((runId: number, values: readonly VehicleValue[]) => {
      if ((count.get(runId) as number) + values.length > MOST_VALUES)
        throw new RecordError('TOO_MANY_RECORDS');
      for (const { quantity, atMs, value } of values) insert.run(runId, quantity, Math.round(atMs), value);
    }),
    series(runId, fromMs = 0, toMs = Number.MAX_SAFE_INTEGER) {
      const found: VehicleSeries[] = [];
      for (const { quantity, atMs, value } of all.all(runId, fromMs, toMs) as VehicleValue[]) {
        if (found.at(-1)?.quantity !== quantity) found.push({ quantity, atMs: [], value: [] });
        found.at(-1)!.atMs.push(atMs);
        found.at(-1)!.value.push(value);
      }
      return found;
    },
    newest: (runId) => newest.all(runId) as ReturnType<VehicleValues['newest']>,
  };
}
