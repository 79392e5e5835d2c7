import type { Database } from 'better-sqlite3';
import type { AlertAbout, AlertClearing } from '../../contract/alerts.ts';
import type { TrendValue } from '../../contract/model.ts';
import { RecordError } from './record-error.ts';

/** Something that stands now and is an alert as long as it does. */
export interface Cause {
  /** Known by this, from one look to the next and over restarts. */
  key: string;
  about: AlertAbout;
  assetId: number | null;
  locationId: number | null;
  nodeId: string | null;
  quantity: TrendValue | null;
  detail: string;
  value: number | null;
  limit: number | null;
  unit: string;
  falseAlarmsPerYear: number | null;
  sinceMs: number;
  /** Newest measurement that bears it out. */
  seenMs: number;
}

export interface AlertRecord extends Omit<Cause, 'key' | 'seenMs'> {
  id: number;
  cause: string;
  raisedMs: number;
  lastSeenMs: number;
  clearedMs: number | null;
  clearedWhy: AlertClearing | null;
  acknowledgedMs: number | null;
  acknowledgedBy: string | null;
  note: string | null;
}

export type AlertEvent = 'raised' | 'cleared' | 'acknowledged';

/** Called within the transaction that made the change: what it writes is kept together with it. */
export type AlertListener = (event: AlertEvent, alert: AlertRecord) => void;

export interface Alerts {
  /**
   * Of all causes whose key begins with `scope`, exactly these stand now: raises what is new, clears what has gone, and
   * brings the others up to date. Saying the same again changes nothing.
   */
  settle(
    scope: string,
    standing: readonly Cause[],
    atMs: number,
    why: AlertClearing | ((alert: AlertRecord) => AlertClearing),
  ): void;
  /** Throws `ALERT_NOT_FOUND`. */
  acknowledge(id: number, by: string, note: string, atMs: number): AlertRecord;
  /** Throws `ALERT_NOT_FOUND`. */
  alert(id: number): AlertRecord;
  /** Newest first. */
  list(query: { state: 'open' | 'all'; assetId?: number; beforeId?: number; limit: number }): AlertRecord[];
  /** State of a chain as it was last put; null before. */
  state<State>(key: string): State | null;
  putState(key: string, state: unknown): void;
  /** All that `work` changes is kept, or nothing of it. */
  together(work: () => void): void;
  /** At most one listener. */
  onEvent(listener: AlertListener): void;
}

const COLUMNS = `id, cause, about, asset_id AS assetId, location_id AS locationId, node_id AS nodeId, quantity, detail,
  value, limit_value AS "limit", unit, false_alarms_per_year AS falseAlarmsPerYear, since_ms AS sinceMs,
  raised_ms AS raisedMs, last_seen_ms AS lastSeenMs, cleared_ms AS clearedMs, cleared_why AS clearedWhy,
  acknowledged_ms AS acknowledgedMs, acknowledged_by AS acknowledgedBy, note`;

export function createAlerts(db: Database, changed: () => void): Alerts {
  const sql = {
    open: db.prepare(
      `SELECT ${COLUMNS} FROM alerts WHERE cleared_ms IS NULL AND substr(cause, 1, length(@scope)) = @scope ORDER BY id`,
    ),
    one: db.prepare(`SELECT ${COLUMNS} FROM alerts WHERE id = ?`),
    add: db.prepare(
      `INSERT INTO alerts (cause, about, asset_id, location_id, node_id, quantity, detail, value, limit_value, unit,
         false_alarms_per_year, since_ms, raised_ms, last_seen_ms)
       VALUES (@key, @about, @assetId, @locationId, @nodeId, @quantity, @detail, @value, @limit, @unit,
         @falseAlarmsPerYear, @sinceMs, @atMs, @seenMs)`,
    ),
    renew: db.prepare(
      `UPDATE alerts SET quantity = @quantity, unit = @unit, value = @value, limit_value = @limit, detail = @detail, last_seen_ms = @seenMs,
         false_alarms_per_year = @falseAlarmsPerYear WHERE id = @id`,
    ),
    clear: db.prepare('UPDATE alerts SET cleared_ms = ?, cleared_why = ? WHERE id = ?'),
    acknowledge: db.prepare(
      'UPDATE alerts SET acknowledged_ms = ?, acknowledged_by = ?, note = ? WHERE id = ?',
    ),
    list: db.prepare(
      `SELECT ${COLUMNS} FROM alerts WHERE (@all OR cleared_ms IS NULL) AND (@assetId IS NULL OR asset_id = @assetId)
         AND (@beforeId IS NULL OR id < @beforeId) ORDER BY id DESC LIMIT @limit`,
    ),
    state: db.prepare('SELECT state FROM alert_states WHERE key = ?').pluck(),
    putState: db.prepare('REPLACE INTO alert_states VALUES (?, ?)'),
  };
  let listener: AlertListener = () => {};
  let news = false;
  const find = (id: number): AlertRecord => {
    const found = sql.one.get(id) as AlertRecord | undefined;
    if (found === undefined) throw new RecordError('ALERT_NOT_FOUND');
    return found;
  };
  const tell = (event: AlertEvent, id: number) => {
    news = true;
    listener(event, find(id));
  };

  const settle = db.transaction(
    (scope: string, standing: readonly Cause[], atMs: number, why: Parameters<Alerts['settle']>[3]) => {
      const open = new Map((sql.open.all({ scope }) as AlertRecord[]).map((alert) => [alert.cause, alert]));
      for (const cause of standing) {
        const { key, seenMs, ...rest } = cause;
        const row = { ...rest, key, seenMs: Math.round(seenMs), sinceMs: Math.round(cause.sinceMs), atMs };
        const known = open.get(key);
        open.delete(key);
        if (known === undefined) tell('raised', Number(sql.add.run(row).lastInsertRowid));
        else if (isOther(known, cause)) {
          sql.renew.run({ ...row, id: known.id });
          news = true;
        }
      }
      for (const gone of open.values()) {
        sql.clear.run(atMs, typeof why === 'function' ? why(gone) : why, gone.id);
        tell('cleared', gone.id);
      }
    },
  );
  const acknowledge = db.transaction((id: number, by: string, note: string, atMs: number) => {
    find(id);
    sql.acknowledge.run(atMs, by, note.trim(), id);
    tell('acknowledged', id);
  });
  const together = db.transaction((work: () => void) => work());
  function within(work: () => void): void {
    const isOutermost = !db.inTransaction;
    together.immediate(work);
    if (!isOutermost || !news) return;
    news = false;
    changed();
  }

  return {
    settle: (scope, standing, atMs, why) => within(() => settle(scope, standing, atMs, why)),
    acknowledge(id, by, note, atMs) {
      within(() => acknowledge(id, by, note, atMs));
      return find(id);
    },
    alert: find,
    list: ({ state, assetId = null, beforeId = null, limit }) =>
      sql.list.all({ all: state === 'all' ? 1 : 0, assetId, beforeId, limit }) as AlertRecord[],
    state<State>(key: string) {
      const text = sql.state.get(key) as string | undefined;
      return text === undefined ? null : (JSON.parse(text) as State);
    },
    putState: (key, state) => void sql.putState.run(key, JSON.stringify(state)),
    together: within,
    onEvent(added) {
      listener = added;
    },
  };
}

function isOther(known: AlertRecord, cause: Cause): boolean {
  return (
    known.quantity !== cause.quantity ||
    known.value !== cause.value ||
    known.limit !== cause.limit ||
    known.detail !== cause.detail ||
    known.lastSeenMs !== Math.round(cause.seenMs)
  );
}
