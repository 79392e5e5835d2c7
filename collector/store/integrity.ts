import { randomBytes } from 'node:crypto';
import { existsSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import Database from 'better-sqlite3';
import { CollectorError } from '../errors.ts';
import { coded } from './sqlite-open.ts';

/** What SQLite finds wrong in a file, at most a few lines; nothing when it is sound. */
export function damageOf(file: string, check: 'quick_check' | 'integrity_check' = 'quick_check'): string[] {
  try {
    return coded(file, () => {
      const db = new Database(file, { fileMustExist: true, timeout: 5000 });
      try {
        const found = db.pragma(`${check}(3)`) as Record<string, string>[];
        return found.flatMap(Object.values).filter((line) => line !== 'ok');
      } finally {
        db.close();
      }
    });
  } catch (error) {
    // Damage at the root stops the check itself.
    if (error instanceof CollectorError && error.code === 'READINGS_CORRUPT') return [error.message];
    throw error;
  }
}

/**
 * Marks the readings file as in use, and checks it first when it was not closed properly the last time: a power
 * cut can leave a disk with half of what it said it wrote. A file that was closed properly opens at once.
 *
 * @returns what to call when the file has been closed
 * @throws CollectorError READINGS_UNSOUND when the check finds damage
 */
export function beginUse(file: string, log?: { info(message: string): void }): () => void {
  const mark = `${file}-in-use`;
  if (existsSync(mark) && existsSync(file)) {
    log?.info(`${file} was not closed properly: it is checked`);
    const damage = damageOf(file);
    if (damage.length > 0) throw new CollectorError('READINGS_UNSOUND', `${file} (${damage.join('; ')})`);
  }
  const own = randomBytes(8).toString('hex');
  coded(file, () => writeFileSync(mark, own));
  return () => {
    // A second writer that took the file over has set a mark of its own.
    if (existsSync(mark) && readFileSync(mark, 'utf8') === own) rmSync(mark, { force: true });
  };
}
