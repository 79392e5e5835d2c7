import type { Database } from 'better-sqlite3';
import type { Person } from './people.ts';
import { hashSecret, newSecret } from './secrets.ts';

const DAY_MS = 86_400_000;
/** A session unused for this long ends. */
const IDLE_MS = 7 * DAY_MS;
/** No session lasts longer than this, however much it is used. */
const LONGEST_MS = 90 * DAY_MS;
/** The expiry is moved at most this often, so that reading a page does not write to the disk each time. */
const SLIDE_STEP_MS = 3_600_000;
const MOST_PER_PERSON = 20;

export interface Session {
  id: number;
  person: Person;
  expiresMs: number;
}

export interface Sessions {
  /** The token goes into the browser's cookie; only its hash is kept. */
  open(person: Person): { token: string; session: Session };
  /** The living session of a token; using it moves its expiry, and `slid` says that the cookie should follow. */
  use(token: string): { session: Session; slid: boolean } | null;
  /** Whether the session is still open; does not count as use. */
  isOpen(sessionId: number): boolean;
  close(sessionId: number): void;
  /** Signs a person out everywhere, or everywhere but in one session. */
  closeAllOf(personId: number, butSessionId?: number): void;
}

interface Row {
  id: number;
  created_ms: number;
  expires_ms: number;
  person_id: number;
  name: string;
  role: Person['role'];
}

export function createSessions(db: Database, now: () => number, closed: (id: number) => void): Sessions {
  const insert = db.prepare(
    'INSERT INTO sessions (token_hash, person_id, created_ms, expires_ms) VALUES (?, ?, ?, ?)',
  );
  const find = db.prepare(
    `SELECT s.id, s.created_ms, s.expires_ms, p.id AS person_id, p.name, p.role
     FROM sessions AS s JOIN people AS p ON p.id = s.person_id WHERE s.token_hash = ? AND s.expires_ms > ?`,
  );
  const slide = db.prepare('UPDATE sessions SET expires_ms = ? WHERE id = ?');
  const alive = db.prepare('SELECT 1 FROM sessions WHERE id = ? AND expires_ms > ?').pluck();
  const remove = db.prepare('DELETE FROM sessions WHERE id = ?');
  const expired = db.prepare('SELECT id FROM sessions WHERE expires_ms <= ?').pluck();
  const surplus = db
    .prepare('SELECT id FROM sessions WHERE person_id = ? ORDER BY id DESC LIMIT -1 OFFSET ?')
    .pluck();

  function close(id: number): void {
    if (remove.run(id).changes > 0) closed(id);
  }

  /** On a full disk people still see their machines: a session that cannot be prolonged is good all the same. */
  function trySlide(expiresMs: number, id: number): boolean {
    try {
      return slide.run(expiresMs, id).changes > 0;
    } catch {
      return false;
    }
  }

  return {
    open(person) {
      const nowMs = now();
      const token = newSecret(32);
      const expiresMs = nowMs + IDLE_MS;
      const { lastInsertRowid } = insert.run(hashSecret(token), person.id, nowMs, expiresMs);
      for (const id of expired.all(nowMs) as number[]) close(id);
      for (const id of surplus.all(person.id, MOST_PER_PERSON) as number[]) close(id);
      return { token, session: { id: Number(lastInsertRowid), person, expiresMs } };
    },
    use(token) {
      const nowMs = now();
      // Looked up by the hash of a 256-bit secret: timing of the index tells nothing about the secret.
      const row = find.get(hashSecret(token), nowMs) as Row | undefined;
      if (row === undefined) return null;
      const target = Math.min(nowMs + IDLE_MS, row.created_ms + LONGEST_MS);
      const slid = target - row.expires_ms >= SLIDE_STEP_MS && trySlide(target, row.id);
      const person = { id: row.person_id, name: row.name, role: row.role };
      return { session: { id: row.id, person, expiresMs: slid ? target : row.expires_ms }, slid };
    },
    isOpen: (sessionId) => alive.get(sessionId, now()) !== undefined,
    close,
    closeAllOf(personId, butSessionId) {
      for (const id of surplus.all(personId, 0) as number[]) if (id !== butSessionId) close(id);
    },
  };
}
