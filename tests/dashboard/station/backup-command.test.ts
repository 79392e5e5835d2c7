import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { Command } from 'commander';
import { afterAll, afterEach, describe, expect, it, vi } from 'vitest';
import { openReadingStore } from '../../../collector/index.ts';
import { openRecordStore } from '../../../dashboard/server/index.ts';
import { backupCommand, restoreCommand } from '../../../dashboard/station/backup-command.ts';
import { takeDataFolder } from '../../../dashboard/station/data-folder.ts';
import { madeReading } from '../../collector/store/reading-store-contract.ts';
import { runStation } from '../../support/station.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-backup-command-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => void vi.restoreAllMocks());

async function run(...words: string[]): Promise<string> {
  const said: string[] = [];
  vi.spyOn(console, 'log').mockImplementation((line) => void said.push(String(line)));
  await new Command()
    .exitOverride()
    .addCommand(backupCommand())
    .addCommand(restoreCommand())
    .parseAsync(words, { from: 'user' });
  return said.join('\n');
}

let folders = 0;
async function station(readings: number): Promise<string> {
  const dataDir = mkdtempSync(join(folder, `data-${folders++}-`));
  const store = await openReadingStore({ readingsFile: join(dataDir, 'readings.sqlite'), site: 'depot' });
  await store.commit(
    Array.from({ length: readings }, (_, k) => madeReading(k, 1)),
    readings,
  );
  await store.close();
  openRecordStore(join(dataDir, 'records.sqlite')).close();
  return dataDir;
}

async function readingsIn(dataDir: string): Promise<number> {
  const store = await openReadingStore({ readingsFile: join(dataDir, 'readings.sqlite'), site: 'depot' });
  const found = await store.readings({ nodeId: '00000000000000b1', sensor: 0 }, 0, 1e15);
  expect(await store.journalPosition()).toBe(found.length);
  await store.close();
  return found.length;
}

describe('backup and restore', () => {
  it('bring back what was saved, and keep aside what was there', async () => {
    const dataDir = await station(500);
    const file = join(folder, 'depot.zip');
    expect(await run('backup', file, '--data', dataDir)).toMatch(
      /readings\.sqlite.*sound\nrecords\.sqlite.*sound\nsaved in/,
    );
    const store = await openReadingStore({ readingsFile: join(dataDir, 'readings.sqlite'), site: 'depot' });
    await store.commit([madeReading(1000, 1)], 501);
    await store.close();
    expect(await readingsIn(dataDir)).toBe(501);
    expect(await run('restore', file, '--data', dataDir)).toContain('what was there before is in');
    expect(await readingsIn(dataDir)).toBe(500);
    const [aside] = readdirSync(dataDir).filter((name) => name.startsWith('before-restore-'));
    expect(readdirSync(join(dataDir, aside!)).sort()).toEqual(['readings.sqlite', 'records.sqlite']);
    expect(readdirSync(dataDir).some((name) => name.startsWith('.restore-'))).toBe(false);
    expect(readdirSync(folder).some((name) => name.startsWith('.depot'))).toBe(false);
  });

  it('bring a station to another folder', async () => {
    const file = join(folder, 'moved.zip');
    await run('backup', file, '--data', await station(20));
    const elsewhere = join(folder, 'elsewhere');
    await run('restore', file, '--data', elsewhere);
    expect(await readingsIn(elsewhere)).toBe(20);
  });

  it('save a station that runs, and are refused while it runs', async () => {
    const running = await runStation(['--demo']);
    const file = join(folder, 'running.zip');
    try {
      expect(await run('backup', file, '--data', running.dataDir)).toContain('records.sqlite');
      await expect(run('restore', file, '--data', running.dataDir)).rejects.toMatchObject({
        code: 'STATION_RUNS',
      });
    } finally {
      await running.kill('SIGINT');
    }
    const assets = () => {
      const records = new Database(join(running.dataDir, 'records.sqlite'));
      const count = records.prepare('SELECT count(*) FROM assets').pluck().get();
      records.close();
      return count;
    };
    const before = assets();
    expect(before).toBeGreaterThan(0);
    const records = new Database(join(running.dataDir, 'records.sqlite'));
    records.exec('PRAGMA foreign_keys = OFF; DELETE FROM assets');
    records.close();
    await run('restore', file, '--data', running.dataDir);
    expect(assets()).toBe(before);
    const again = await runStation([], running.dataDir);
    await again.close();
    rmSync(running.dataDir, { recursive: true, force: true });
  });

  it('are refused while any part of a station runs apart', async () => {
    const dataDir = await station(1);
    const file = join(folder, 'apart.zip');
    await run('backup', file, '--data', dataDir);
    const release = takeDataFolder(dataDir, 'collector');
    await expect(run('restore', file, '--data', dataDir)).rejects.toMatchObject({ code: 'STATION_RUNS' });
    release();
    await run('restore', file, '--data', dataDir);
  });

  it('do not overwrite a backup unless told to', async () => {
    const dataDir = await station(3);
    const file = join(folder, 'kept.zip');
    await run('backup', file, '--data', dataDir);
    await expect(run('backup', file, '--data', dataDir)).rejects.toMatchObject({ code: 'BAD_SETTING' });
    await run('backup', file, '--data', dataDir, '--force');
  });

  it('tell what is no backup, and a damaged one, and leave the station as it was', async () => {
    const dataDir = await station(400);
    const file = join(folder, 'whole.zip');
    await run('backup', file, '--data', dataDir);
    const bytes = readFileSync(file);
    const refused = async (content: Buffer | string) => {
      const other = join(folder, 'other.zip');
      writeFileSync(other, content);
      await expect(run('restore', other, '--data', dataDir)).rejects.toMatchObject({
        code: 'BACKUP_FILE',
        remedy: expect.stringContaining('clampline backup'),
      });
      expect(await readingsIn(dataDir)).toBe(400);
    };
    await refused('this is a letter');
    await refused('');
    await refused(bytes.subarray(0, bytes.length / 2));
    const flipped = Buffer.from(bytes);
    flipped[Math.floor(bytes.length / 2)]! ^= 0xff;
    await refused(flipped);
    await expect(run('restore', join(folder, 'nowhere.zip'), '--data', dataDir)).rejects.toMatchObject({
      code: 'BACKUP_FILE',
    });
    expect(existsSync(join(dataDir, 'records.sqlite'))).toBe(true);
  });

  it('name a folder without a station', async () => {
    await expect(
      run('backup', join(folder, 'none.zip'), '--data', join(folder, 'none')),
    ).rejects.toMatchObject({
      code: 'DATA_FOLDER',
    });
    expect(existsSync(join(folder, 'none.zip'))).toBe(false);
  });
});
