import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterAll, afterEach, describe, expect, it, vi } from 'vitest';
import { openRecordStore } from '../../../dashboard/server/index.ts';
import { takeDataFolder } from '../../../dashboard/station/data-folder.ts';
import { passwordCommand } from '../../../dashboard/station/password-command.ts';
import { CHEAP } from '../server/support.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-password-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => void vi.restoreAllMocks());
const OLD = 'a quiet gearbox';
const NEW = 'a silent gearbox';

let count = 0;
async function stationFolder(): Promise<string> {
  const dataDir = mkdtempSync(join(folder, `data-${count++}-`));
  const records = openRecordStore(join(dataDir, 'records.sqlite'), { passwordCost: CHEAP });
  await records.people.create('Ines', OLD, 'technician');
  records.close();
  return dataDir;
}

async function run(dataDir: string, name: string, password: string, ...more: string[]): Promise<string> {
  const file = join(folder, `password-${count++}`);
  writeFileSync(file, `${password}\n`, { mode: 0o600 });
  const said: string[] = [];
  vi.spyOn(console, 'log').mockImplementation((line) => void said.push(String(line)));
  const words = ['password', name, '--data', dataDir, '--password-file', file, ...more];
  await new Command().exitOverride().addCommand(passwordCommand()).parseAsync(words, { from: 'user' });
  return said.join('\n');
}

describe('password', () => {
  it('lets a person in with the new one only, with the role shop where asked', async () => {
    const dataDir = await stationFolder();
    expect(await run(dataDir, 'ines', NEW, '--shop')).toContain('Ines has a new password');
    const records = openRecordStore(join(dataDir, 'records.sqlite'));
    expect(await records.people.verify('Ines', OLD)).toBeNull();
    expect(await records.people.verify('Ines', NEW)).toMatchObject({ name: 'Ines', role: 'shop' });
    records.close();
  });

  it('says who there is when the name is unknown, and refuses a short one', async () => {
    const dataDir = await stationFolder();
    await expect(run(dataDir, 'Jo', NEW)).rejects.toMatchObject({ remedy: "There are: 'Ines'." });
    await expect(run(dataDir, 'Ines', 'short')).rejects.toThrow('at least 10 characters');
  });

  it('leaves the records of a running station alone', async () => {
    const dataDir = await stationFolder();
    const release = takeDataFolder(dataDir, 'station');
    await expect(run(dataDir, 'Ines', NEW)).rejects.toMatchObject({ code: 'STATION_RUNS' });
    release();
  });
});
