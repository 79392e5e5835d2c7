import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setImmediate as tick } from 'node:timers/promises';
import Database from 'better-sqlite3';
import { afterAll, describe, expect, it } from 'vitest';
import { snapshotDatabases } from '../../../collector/store/backup.ts';
import { openReadingReader } from '../../../collector/store/sqlite-reader.ts';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { madeReading } from './reading-store-contract.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-backup-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const path = (name: string) => join(folder, name);
const SENSOR = { nodeId: '00000000000000b1', sensor: 0 };

describe('copying files in use', () => {
  it('ends, and shows one moment of both, while both are written all the time', async () => {
    const store = await openSqliteStore(path('readings.sqlite'));
    await store.commit(
      Array.from({ length: 20_000 }, (_, k) => madeReading(k, 1)),
      0,
    );
    const other = new Database(path('other.sqlite'));
    other.pragma('journal_mode = WAL');
    other.exec('CREATE TABLE n (value)');
    other.exec('INSERT INTO n VALUES (0)');
    let writing = true;
    const writer = (async () => {
      for (let k = 1; writing; k++) {
        other.prepare('UPDATE n SET value = ?').run(k);
        await store.commit([madeReading(20_000 + k, 1)], k);
        await tick();
      }
    })();
    for (let i = 0; i < 20; i++) await tick();
    const shares: number[] = [];
    await snapshotDatabases(
      [
        { from: path('readings.sqlite'), to: path('a.copy') },
        { from: path('other.sqlite'), to: path('b.copy') },
      ],
      (share) => shares.push(share),
    );
    const positionAtEnd = await store.journalPosition();
    writing = false;
    await writer;
    await store.close();
    other.close();

    const copied = openReadingReader(path('a.copy'));
    const readings = await copied.readings(SENSOR, 0, 1e15);
    await copied.close();
    const n = new Database(path('b.copy'), { readonly: true });
    const value = n.prepare('SELECT value FROM n').pluck().get() as number;
    n.close();
    // The writer is one step ahead in the other file, or level.
    expect([0, 1]).toContain(value - (readings.length - 20_000));
    expect(value).toBeGreaterThan(0);
    expect(positionAtEnd).toBeGreaterThan(value);
    expect(shares.length).toBeGreaterThan(1);
    expect(shares.at(-1)).toBe(1);
    expect([...shares].sort((a, b) => a - b)).toEqual(shares);
    expect(readdirSync(folder).filter((name) => name.includes('copy-'))).toEqual([]);
  });

  it('refuses a damaged file and leaves no copy', async () => {
    const file = path('damaged.sqlite');
    const store = await openSqliteStore(file);
    await store.commit(
      Array.from({ length: 3000 }, (_, k) => madeReading(k, 1)),
      0,
    );
    await store.close();
    const db = new Database(file);
    // A page of the readings takes the place of another: every page is whole, but the order is not.
    const pageBytes = db.pragma('page_size', { simple: true }) as number;
    db.close();
    const { open } = await import('node:fs/promises');
    const handle = await open(file, 'r+');
    const { size } = await handle.stat();
    const page = Buffer.alloc(pageBytes);
    await handle.read(page, 0, pageBytes, Math.floor(size / pageBytes / 2) * pageBytes);
    await handle.write(page, 0, pageBytes, (Math.floor(size / pageBytes / 2) + 3) * pageBytes);
    await handle.close();
    await expect(snapshotDatabases([{ from: file, to: path('never.copy') }])).rejects.toMatchObject({
      code: expect.stringMatching(/^READINGS_(UNSOUND|CORRUPT)$/),
    });
    expect(existsSync(path('never.copy'))).toBe(false);
  });
});
