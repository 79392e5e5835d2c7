import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, describe, expect, it } from 'vitest';
import { openReadingStore } from '../../../collector/store/open-reading-store.ts';
import { madeReading } from './reading-store-contract.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-integrity-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let files = 0;

async function filled(close: boolean): Promise<string> {
  const readingsFile = join(folder, `${files++}.sqlite`);
  const store = await openReadingStore({ readingsFile, site: 'depot' });
  await store.commit(
    Array.from({ length: 3000 }, (_, k) => madeReading(k, 1)),
    5,
  );
  if (close) await store.close();
  return readingsFile;
}

/** A page that was never written down, as a disk that lost its cache leaves it. */
async function damage(file: string): Promise<void> {
  const db = new Database(file);
  db.pragma('wal_checkpoint(TRUNCATE)');
  const pageBytes = db.pragma('page_size', { simple: true }) as number;
  db.close();
  const handle = await open(file, 'r+');
  const { size } = await handle.stat();
  const middle = Math.floor(size / pageBytes / 2);
  await handle.write(Buffer.alloc(pageBytes), 0, pageBytes, middle * pageBytes);
  await handle.close();
}

describe('the check after a crash', () => {
  it('is not made when the file was closed properly', async () => {
    const file = await filled(true);
    expect(existsSync(`${file}-in-use`)).toBe(false);
    const said: string[] = [];
    const log = { info: (line: string) => said.push(line), warn: () => {} };
    const store = await openReadingStore({ readingsFile: file, site: 'depot' }, { log });
    expect(said).toEqual([]);
    await store.close();
  });

  it('is made when it was not, and a sound file opens with all that was committed', async () => {
    const file = await filled(false);
    const said: string[] = [];
    const log = { info: (line: string) => said.push(line), warn: () => {} };
    const store = await openReadingStore({ readingsFile: file, site: 'depot' }, { log });
    expect(said.join()).toContain('not closed properly');
    expect(await store.journalPosition()).toBe(5);
    await store.close();
  });

  it('is not forgotten when a writer that lost the file closes after the one that took it', async () => {
    const readingsFile = join(folder, `${files++}.sqlite`);
    const first = await openReadingStore({ readingsFile, site: 'depot' });
    const second = await openReadingStore({ readingsFile, site: 'depot' });
    await first.close();
    expect(existsSync(`${readingsFile}-in-use`)).toBe(true);
    await second.close();
    expect(existsSync(`${readingsFile}-in-use`)).toBe(false);
  });

  it('stops at damage and says what to do; a fresh file then starts from the beginning of the journal', async () => {
    const file = await filled(false);
    await damage(file);
    await expect(openReadingStore({ readingsFile: file, site: 'depot' })).rejects.toMatchObject({
      code: 'READINGS_UNSOUND',
      remedy: expect.stringMatching(/backup.*journal/),
    });
    // It stays refused until somebody does something about it.
    await expect(openReadingStore({ readingsFile: file, site: 'depot' })).rejects.toMatchObject({
      code: 'READINGS_UNSOUND',
    });
    for (const suffix of ['', '-wal', '-shm']) rmSync(file + suffix, { force: true });
    const store = await openReadingStore({ readingsFile: file, site: 'depot' });
    expect(await store.journalPosition()).toBe(0);
    await store.close();
  });
});
