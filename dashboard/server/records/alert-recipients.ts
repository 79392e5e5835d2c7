import { randomBytes } from 'node:crypto';
import type { Database } from 'better-sqlite3';
import type { AlertRecipientRequest, AlertSettings } from '../../contract/alerts.ts';
import { RecordError } from './record-error.ts';

export interface RecipientRecord {
  id: number;
  kind: 'email' | 'webhook';
  /** E-mail or web address. */
  target: string;
  /** Of a webhook: signs what is sent to it. */
  secret: string | null;
  addedBy: string;
  addedMs: number;
}

/** Who is told of alerts, and how long nodes may be quiet before that is one. */
export interface AlertRecipients {
  list(): RecipientRecord[];
  /** Throws `RECIPIENT_NOT_FOUND`. */
  recipient(id: number): RecipientRecord;
  /** Throws `RECIPIENT_EXISTS` and `TOO_MANY_RECORDS`. */
  add(request: AlertRecipientRequest, by: string, atMs: number): RecipientRecord;
  /** Throws `RECIPIENT_NOT_FOUND`. What still waits for it goes too. */
  remove(id: number): void;
  settings(): AlertSettings;
  putSettings(settings: AlertSettings): AlertSettings;
}

const MOST_RECIPIENTS = 50;
const SETTINGS = 'alert-settings';
const DEFAULT_SETTINGS: AlertSettings = {
  machineQuietMinutes: 15,
  vehicleQuietHours: 48,
  namesInMessages: true,
};

export function createAlertRecipients(db: Database): AlertRecipients {
  const columns = 'id, kind, target, secret, added_by AS addedBy, added_ms AS addedMs';
  const sql = {
    list: db.prepare(`SELECT ${columns} FROM alert_recipients ORDER BY id`),
    one: db.prepare(`SELECT ${columns} FROM alert_recipients WHERE id = ?`),
    same: db.prepare('SELECT 1 FROM alert_recipients WHERE kind = ? AND target = ?'),
    count: db.prepare('SELECT count(*) FROM alert_recipients').pluck(),
    add: db.prepare(
      'INSERT INTO alert_recipients (kind, target, secret, added_by, added_ms) VALUES (?, ?, ?, ?, ?)',
    ),
    remove: db.prepare('DELETE FROM alert_recipients WHERE id = ?'),
    get: db.prepare('SELECT value FROM settings WHERE key = ?').pluck(),
    put: db.prepare('REPLACE INTO settings (key, value) VALUES (?, ?)'),
  };
  const find = (id: number): RecipientRecord => {
    const found = sql.one.get(id) as RecipientRecord | undefined;
    if (found === undefined) throw new RecordError('RECIPIENT_NOT_FOUND');
    return found;
  };
  const settings = (): AlertSettings => {
    const text = sql.get.get(SETTINGS) as string | undefined;
    return text === undefined ? DEFAULT_SETTINGS : { ...DEFAULT_SETTINGS, ...JSON.parse(text) };
  };
  return {
    list: () => sql.list.all() as RecipientRecord[],
    recipient: find,
    add(request, by, atMs) {
      const { kind } = request;
      const target = kind === 'email' ? request.address : new URL(request.url).href;
      if (sql.same.get(kind, target) !== undefined) throw new RecordError('RECIPIENT_EXISTS');
      if ((sql.count.get() as number) >= MOST_RECIPIENTS) throw new RecordError('TOO_MANY_RECORDS');
      const secret = kind === 'email' ? null : (request.secret ?? randomBytes(24).toString('base64url'));
      return find(Number(sql.add.run(kind, target, secret, by, atMs).lastInsertRowid));
    },
    remove(id) {
      find(id);
      sql.remove.run(id);
    },
    settings,
    putSettings(changed) {
      sql.put.run(SETTINGS, JSON.stringify(changed));
      return settings();
    },
  };
}
