import type { Database } from 'better-sqlite3';
import { hashPassword, type PasswordCost, verifyPassword } from './password.ts';
import { RecordError } from './record-error.ts';
import type { Sessions } from './sessions.ts';

export type Role = 'shop' | 'technician';

export interface Person {
  id: number;
  name: string;
  role: Role;
}

export interface KnownPerson extends Person {
  createdMs: number;
}

export interface People {
  count(): number;
  /** By name. */
  list(): KnownPerson[];
  /** Throws `NAME_TAKEN`. */
  create(name: string, password: string, role: Role): Promise<Person>;
  /** Null for an unknown name as for a wrong password, and in the same time. */
  verify(name: string, password: string): Promise<Person | null>;
  /**
   * A new password signs the person out everywhere, but in the session named. Throws `PERSON_NOT_FOUND`, and
   * `LAST_SHOP` where nobody with the role shop would be left.
   */
  change(
    id: number,
    change: { role?: Role; password?: string },
    keepSessionId?: number,
  ): Promise<KnownPerson>;
  /** Signs the person out. What the person did keeps the name. Throws as `change` does. */
  remove(id: number): void;
}

function nameKey(name: string): string {
  return name.normalize('NFKC').trim().toLowerCase();
}

export function insertPerson(
  db: Database,
  person: { name: string; role: Role; hash: string; nowMs: number },
): Person {
  const { name, role, hash, nowMs } = person;
  try {
    const { lastInsertRowid } = db
      .prepare('INSERT INTO people (name, name_key, role, password_hash, created_ms) VALUES (?, ?, ?, ?, ?)')
      .run(name.trim(), nameKey(name), role, hash, nowMs);
    return { id: Number(lastInsertRowid), name: name.trim(), role };
  } catch (error) {
    if ((error as { code?: string }).code === 'SQLITE_CONSTRAINT_UNIQUE') throw new RecordError('NAME_TAKEN');
    throw error;
  }
}

export function createPeople(
  db: Database,
  now: () => number,
  cost: PasswordCost,
  sessions: Pick<Sessions, 'closeAllOf'>,
): People {
  const count = db.prepare('SELECT count(*) FROM people').pluck();
  const byName = db.prepare('SELECT id, name, role, password_hash AS hash FROM people WHERE name_key = ?');
  const entries = db.prepare('SELECT id, name, role, created_ms AS createdMs FROM people ORDER BY name_key');
  const shopsBut = db.prepare("SELECT count(*) FROM people WHERE role = 'shop' AND id <> ?").pluck();

  function entry(id: number): KnownPerson {
    const found = (entries.all() as KnownPerson[]).find((person) => person.id === id);
    if (found === undefined) throw new RecordError('PERSON_NOT_FOUND');
    return found;
  }

  /** A station in which nobody may let others in could only be opened with a command at the machine. */
  function keepOneShop(id: number): void {
    if (entry(id).role === 'shop' && shopsBut.get(id) === 0) throw new RecordError('LAST_SHOP');
  }

  // Checked against when the name is unknown, so that the answer takes as long as for a known one.
  let nobody: Promise<string> | undefined;
  return {
    count: () => count.get() as number,
    async create(name, password, role) {
      const hash = await hashPassword(password, cost);
      return insertPerson(db, { name, role, hash, nowMs: now() });
    },
    async verify(name, password) {
      nobody ??= hashPassword('', cost);
      const unknownHash = await nobody;
      const row = byName.get(nameKey(name)) as (Person & { hash: string }) | undefined;
      const matches = await verifyPassword(password, row?.hash ?? unknownHash);
      return row !== undefined && matches ? { id: row.id, name: row.name, role: row.role } : null;
    },
    list: () => entries.all() as KnownPerson[],
    async change(id, { role, password }, keepSessionId) {
      entry(id);
      const hash = password === undefined ? null : await hashPassword(password, cost);
      // In one transaction and after the wait for the hash: two requests at once must not demote the last two.
      return db.transaction(() => {
        if (role !== undefined && role !== 'shop') keepOneShop(id);
        db.prepare(
          'UPDATE people SET role = coalesce(?, role), password_hash = coalesce(?, password_hash) WHERE id = ?',
        ).run(role ?? null, hash, id);
        if (hash !== null) sessions.closeAllOf(id, keepSessionId);
        return entry(id);
      })();
    },
    remove: db.transaction((id: number) => {
      keepOneShop(id);
      // Before the row goes and takes the sessions with it, so that their open pages are told.
      sessions.closeAllOf(id);
      db.prepare('DELETE FROM people WHERE id = ?').run(id);
    }),
  };
}
