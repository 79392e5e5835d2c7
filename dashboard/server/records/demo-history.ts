import type { Database } from 'better-sqlite3';

const KEY = 'demo-history';

/** Where the demo's past begins, and how much of it has been sent: after a stop it is taken up there. */
export interface DemoHistoryRecord {
  /** Null for a demo without a past. */
  read(): { beginMs: number; sent: number } | null;
  write(state: { beginMs: number; sent: number }): void;
}

export function createDemoHistory(db: Database): DemoHistoryRecord {
  const get = db.prepare('SELECT value FROM settings WHERE key = ?').pluck();
  const put = db.prepare('REPLACE INTO settings (key, value) VALUES (?, ?)');
  return {
    read() {
      const text = get.get(KEY) as string | undefined;
      return text === undefined ? null : (JSON.parse(text) as { beginMs: number; sent: number });
    },
    write: (state) => void put.run(KEY, JSON.stringify(state)),
  };
}
