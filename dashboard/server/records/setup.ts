import type { Database } from 'better-sqlite3';
import { hashPassword, type PasswordCost } from './password.ts';
import { insertPerson, type Person } from './people.ts';
import { RecordError } from './record-error.ts';
import { hashSecret, newSecret, sameHash } from './secrets.ts';

const KEY = 'setup-token-hash';

export interface Setup {
  /**
   * A fresh one-time token, to be shown once as a link; earlier ones stop working. Null when a person exists
   * already: from then on people are made by people.
   */
  issueToken(): string | null;
  /** Makes the first person (role shop) and uses the token up. Throws `SETUP_DONE` or `SETUP_TOKEN_WRONG`. */
  redeem(token: string, name: string, password: string): Promise<Person>;
}

export function createSetup(db: Database, now: () => number, cost: PasswordCost): Setup {
  const people = db.prepare('SELECT count(*) FROM people').pluck();
  const stored = db.prepare('SELECT value FROM settings WHERE key = ?').pluck();
  const store = db.prepare('INSERT OR REPLACE INTO settings (key, value) VALUES (?, ?)');
  const drop = db.prepare('DELETE FROM settings WHERE key = ?');

  function check(token: string): void {
    if (people.get() !== 0) throw new RecordError('SETUP_DONE');
    const hash = stored.get(KEY) as string | undefined;
    if (hash === undefined || !sameHash(Buffer.from(hash, 'hex'), hashSecret(token))) {
      throw new RecordError('SETUP_TOKEN_WRONG');
    }
  }

  const finish = db.transaction((token: string, name: string, hash: string): Person => {
    check(token);
    drop.run(KEY);
    return insertPerson(db, { name, role: 'shop', hash, nowMs: now() });
  });

  return {
    issueToken() {
      if (people.get() !== 0) return null;
      const token = newSecret(32);
      store.run(KEY, hashSecret(token).toString('hex'));
      return token;
    },
    async redeem(token, name, password) {
      check(token); // Before the slow hash, so that guessing costs the station nothing.
      const hash = await hashPassword(password, cost);
      return finish.immediate(token, name, hash); // Checked again: another request may have come first.
    },
  };
}
