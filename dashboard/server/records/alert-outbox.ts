import type { Database } from 'better-sqlite3';

export type AlertChannel = 'mqtt' | 'points' | 'email' | 'webhook';

export interface WaitingMessage {
  id: number;
  alertId: number | null;
  event: 'raised' | 'cleared' | 'acknowledged' | 'test' | 'removed';
  channel: AlertChannel;
  recipientId: number | null;
  body: string;
  createdMs: number;
  /** Tries so far. */
  tries: number;
}

/** What is still to be sent. A message leaves only when it was sent or given up, so a restart loses none. */
export interface AlertOutbox {
  add(message: Omit<WaitingMessage, 'id' | 'tries'>): void;
  /** Due by now, oldest first; of one alert to one recipient only the oldest, so that "cleared" never overtakes. */
  due(nowMs: number, limit: number): WaitingMessage[];
  sent(id: number, atMs: number): void;
  /** `nextMs` null: it is given up. */
  failed(id: number, problem: string, atMs: number, nextMs: number | null): void;
  /** What waits on a channel for another try is due at once: the way is open again. */
  hurry(channel: AlertChannel): void;
  /** Of one recipient. */
  standing(recipientId: number): { waiting: number; lastSentMs: number | null; problem: string | null };
  waiting(): number;
}

/** Of messages that are through, enough to see what went wrong. */
const MOST_DONE = 1_000;

export function createAlertOutbox(db: Database): AlertOutbox {
  const columns = `id, alert_id AS alertId, event, channel, recipient_id AS recipientId, body, created_ms AS createdMs, tries`;
  const sql = {
    add: db.prepare(
      `INSERT INTO alert_messages (alert_id, event, channel, recipient_id, body, created_ms, next_ms)
       VALUES (@alertId, @event, @channel, @recipientId, @body, @createdMs, @createdMs)`,
    ),
    due: db.prepare(
      `SELECT ${columns} FROM alert_messages AS m WHERE done_ms IS NULL AND next_ms <= ?
         AND NOT EXISTS (SELECT 1 FROM alert_messages AS before WHERE before.done_ms IS NULL AND before.id < m.id
           AND before.alert_id = m.alert_id AND before.channel = m.channel AND before.recipient_id IS m.recipient_id)
       ORDER BY id LIMIT ?`,
    ),
    done: db.prepare(
      'UPDATE alert_messages SET done_ms = ?, outcome = ?, problem = ?, tries = tries + 1 WHERE id = ?',
    ),
    later: db.prepare('UPDATE alert_messages SET tries = tries + 1, next_ms = ?, problem = ? WHERE id = ?'),
    hurry: db.prepare('UPDATE alert_messages SET next_ms = 0 WHERE done_ms IS NULL AND channel = ?'),
    forget: db.prepare(
      `DELETE FROM alert_messages WHERE done_ms IS NOT NULL AND id <=
       (SELECT id FROM alert_messages WHERE done_ms IS NOT NULL ORDER BY id DESC LIMIT 1 OFFSET ${MOST_DONE})`,
    ),
    waiting: db.prepare('SELECT count(*) FROM alert_messages WHERE done_ms IS NULL').pluck(),
    waitingOf: db
      .prepare('SELECT count(*) FROM alert_messages WHERE done_ms IS NULL AND recipient_id = ?')
      .pluck(),
    lastSent: db
      .prepare(
        "SELECT max(done_ms) FROM alert_messages WHERE recipient_id = ? AND done_ms IS NOT NULL AND outcome = 'sent'",
      )
      .pluck(),
    newest: db.prepare(
      `SELECT outcome, problem FROM alert_messages WHERE recipient_id = ? AND tries > 0 ORDER BY id DESC LIMIT 1`,
    ),
  };
  return {
    add: (message) => void sql.add.run(message),
    due: (nowMs, limit) => sql.due.all(nowMs, limit) as WaitingMessage[],
    sent(id, atMs) {
      sql.done.run(atMs, 'sent', null, id);
      sql.forget.run();
    },
    failed(id, problem, atMs, nextMs) {
      if (nextMs === null) sql.done.run(atMs, 'given-up', problem, id);
      else sql.later.run(nextMs, problem, id);
    },
    hurry: (channel) => void sql.hurry.run(channel),
    standing(recipientId) {
      const newest = sql.newest.get(recipientId) as { problem: string | null } | undefined;
      return {
        waiting: sql.waitingOf.get(recipientId) as number,
        lastSentMs: sql.lastSent.get(recipientId) as number | null,
        problem: newest?.problem ?? null,
      };
    },
    waiting: () => sql.waiting.get() as number,
  };
}
