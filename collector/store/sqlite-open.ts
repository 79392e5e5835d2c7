import { existsSync } from 'node:fs';
import { dirname } from 'node:path';
import Database from 'better-sqlite3';
import { CollectorError, type CollectorErrorCode } from '../errors.ts';
import { APPLICATION_ID, MIGRATIONS } from './sqlite-migrations.ts';

const BUSY_MS = 5000;

/** Opens (creates, brings up to date) the file for its one writer. */
export function openForWriting(file: string, busyMs = BUSY_MS): Database.Database {
  if (!existsSync(dirname(file))) throw new CollectorError('READINGS_FOLDER_MISSING', dirname(file));
  return coded(file, () => {
    const db = new Database(file, { timeout: busyMs });
    try {
      checkIdentity(db, file);
      db.pragma('journal_mode = WAL');
      // A power cut may take the last commits; readings and cursor go together, so they are made again.
      db.pragma('synchronous = NORMAL');
      db.pragma('journal_size_limit = 67108864');
      migrate(db);
      return db;
    } catch (error) {
      db.close();
      throw error;
    }
  });
}

/** Opens the file for reading; null while it does not exist or has no tables yet. */
export function openForReading(file: string): Database.Database | null {
  if (!existsSync(file)) return null;
  return coded(file, () => {
    const db = new Database(file, { readonly: true, fileMustExist: true, timeout: BUSY_MS });
    try {
      if (checkIdentity(db, file) === MIGRATIONS.length) return db;
    } catch (error) {
      db.close();
      throw error;
    }
    db.close();
    return null;
  });
}

/** Version of the layout; 0 for an empty file. */
function checkIdentity(db: Database.Database, file: string): number {
  const version = db.pragma('user_version', { simple: true }) as number;
  const application = db.pragma('application_id', { simple: true }) as number;
  const tables = db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get() as number;
  if (version === 0 && application === 0 && tables === 0) return 0;
  if (application !== APPLICATION_ID) throw new CollectorError('READINGS_FOREIGN', file);
  if (version > MIGRATIONS.length) {
    throw new CollectorError(
      'READINGS_NEWER',
      `${file} has layout ${version}, known is ${MIGRATIONS.length}`,
    );
  }
  return version;
}

function migrate(db: Database.Database): void {
  db.transaction(() => {
    const version = db.pragma('user_version', { simple: true }) as number;
    for (const step of MIGRATIONS.slice(version)) db.exec(step);
    db.pragma(`application_id = ${APPLICATION_ID}`);
    db.pragma(`user_version = ${MIGRATIONS.length}`);
  }).immediate();
}

const CODES: [RegExp, CollectorErrorCode][] = [
  [/^SQLITE_(NOTADB|CORRUPT)/, 'READINGS_CORRUPT'],
  [/^SQLITE_(BUSY|LOCKED)/, 'READINGS_LOCKED'],
  [/^SQLITE_(READONLY|PERM|CANTOPEN)/, 'READINGS_READ_ONLY'],
  [/^SQLITE_FULL/, 'READINGS_DISK_FULL'],
];

/** Runs database work; what SQLite throws becomes an error with a code and a remedy. */
export function coded<T>(file: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (error instanceof CollectorError || error instanceof RangeError) throw error;
    const code = (error as { code?: unknown }).code;
    const found = CODES.find(([pattern]) => typeof code === 'string' && pattern.test(code));
    const reason = error instanceof Error ? error.message : String(error);
    throw new CollectorError(found?.[1] ?? 'READINGS_FAILED', `${file} (${reason})`, error);
  }
}
