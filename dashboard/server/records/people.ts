import type { Database } from 'better-sqlite3';
import { hashPassword, type PasswordCost, verifyPassword } from './password.ts';
import { RecordError } from './record-error.ts';

export type Role = 'shop' | 'technician';

export interface Person {
  id: number;
  name: string;
  role: Role;
}

export interface People {
  count(): number;
  /** Throws `NAME_TAKEN`. */
  create(name: string, password: string, role: Role): Promise<Person>;
  /** Null for an unknown name as for a wrong password, and in the same time. */
  verify(name: string, password: string): Promise<Person | null>;
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

export function createPeople(db: Database, now: () => number, cost: PasswordCost): People {
  const count = db.prepare('SELECT count(*) FROM people').pluck();
  const byName = db.prepare('SELECT id, name, role, password_hash AS hash FROM people WHERE name_key = ?');
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
  };
}
