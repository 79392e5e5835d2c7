import { rmSync } from 'node:fs';
import Database from 'better-sqlite3';
import { CollectorError } from '../errors.ts';
import { damageOf } from './integrity.ts';
import { coded } from './sqlite-open.ts';

export interface SnapshotJob {
  from: string;
  /** A file that does not exist yet. */
  to: string;
}

/** Pages copied in one step: a few milliseconds, so that a station in the same process goes on. */
const STEP_PAGES = 256;

/**
 * Copies SQLite files while others write them. All copies show the same moment: every file is read through a
 * transaction, and those are all begun before the first page is copied. Each copy is then checked in full and is
 * one file, without a log beside it.
 *
 * @throws CollectorError READINGS_UNSOUND when a copy, and so its source, is damaged
 */
export async function snapshotDatabases(
  jobs: readonly SnapshotJob[],
  onProgress: (share: number) => void = () => {},
): Promise<void> {
  const open: { db: Database.Database; job: SnapshotJob; pages: number }[] = [];
  try {
    for (const job of jobs) {
      open.push(
        coded(job.from, () => {
          const db = new Database(job.from, { fileMustExist: true, timeout: 5000 });
          // Without it a copy begins again whenever somebody else has written: on a running station, for ever.
          db.exec('BEGIN');
          return { db, job, pages: 1 + (db.prepare('PRAGMA page_count').pluck().get() as number) };
        }),
      );
      coded(job.from, () => open.at(-1)!.db.prepare('SELECT count(*) FROM sqlite_schema').get());
    }
    const total = open.reduce((sum, { pages }) => sum + pages, 0);
    let before = 0;
    for (const { db, job, pages } of open) {
      await copy(db, job, (done) => onProgress((before + Math.min(done, pages)) / total));
      before += pages;
    }
    onProgress(1);
  } finally {
    for (const { db } of open) db.close();
  }
}

async function copy(db: Database.Database, { from, to }: SnapshotJob, onPages: (done: number) => void) {
  try {
    await db.backup(to, {
      progress({ totalPages, remainingPages }) {
        onPages(totalPages - remainingPages);
        return STEP_PAGES;
      },
    });
    coded(to, () => {
      const made = new Database(to);
      made.pragma('journal_mode = DELETE');
      made.close();
    });
    const damage = damageOf(to, 'integrity_check');
    if (damage.length > 0) throw new CollectorError('READINGS_UNSOUND', `${from} (${damage.join('; ')})`);
  } catch (error) {
    rmSync(to, { force: true });
    // What the copying itself throws carries SQLite's code.
    coded(from, () => {
      throw error;
    });
  }
}
