import { existsSync, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterAll, afterEach, describe, expect, it, vi } from 'vitest';
import { openNodeCredentials, openRecordStore } from '../../../dashboard/server/index.ts';
import { takeDataFolder } from '../../../dashboard/station/data-folder.ts';
import { enrolCommand } from '../../../dashboard/station/enrol-command.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-enrol-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => void vi.restoreAllMocks());
const NODE = 'c1a0000000000b01';

async function run(...words: string[]): Promise<{ out: string; said: string }> {
  const out: string[] = [];
  const said: string[] = [];
  vi.spyOn(process.stdout, 'write').mockImplementation((text) => void out.push(String(text)) === undefined);
  vi.spyOn(console, 'error').mockImplementation((line) => void said.push(String(line)));
  await new Command()
    .exitOverride()
    .addCommand(enrolCommand())
    .parseAsync(['enrol', ...words], { from: 'user' });
  return { out: out.join(''), said: said.join('\n') };
}

let count = 0;
function stationFolder(): string {
  const dataDir = mkdtempSync(join(folder, `data-${count++}-`));
  openRecordStore(join(dataDir, 'records.sqlite')).close();
  return dataDir;
}

describe('enrol, while no station runs', () => {
  it('writes the records itself and prints a header whose password lets the node in', async () => {
    const dataDir = stationFolder();
    const where = ['--data', dataDir, '--site', 'depot', '--listen', '192.0.2.7', '--mqtt-port', '1884'];
    const { out, said } = await run('0xC1A0-0000 0000:0B01', '--label', 'Axle board', ...where);
    expect(out).toContain('#define BROKER "192.0.2.7"');
    expect(out).toContain('#define SITE "depot"');
    expect(said).toContain('shown only this once');
    const password = out.match(/TOKEN "(\w+)"/)![1]!;
    const credentials = openNodeCredentials(join(dataDir, 'records.sqlite'));
    expect(await credentials.verify(NODE, Buffer.from(password))).toEqual({ role: 'node', nodeId: NODE });
    credentials.close();
    // A second time would make the first board's password worthless without saying so.
    await expect(run(NODE, '--label', 'Axle board', ...where)).rejects.toMatchObject({ code: 'NODE_EXISTS' });
  });

  it('writes the header to a file for this account only, and prints it where that cannot be', async () => {
    const dataDir = stationFolder();
    const file = join(folder, 'node-settings.h');
    const { out } = await run(NODE, '--label', 'a', '--data', dataDir, '--out', file);
    expect(out).toBe('');
    expect(readFileSync(file, 'utf8')).toContain('#define TOKEN');
    expect(statSync(file).mode & 0o077).toBe(0);
    const other = stationFolder();
    let printed = '';
    vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
      printed += String(text);
      return true;
    });
    await expect(
      new Command()
        .addCommand(enrolCommand())
        .parseAsync(['enrol', NODE, '--label', 'a', '--data', other, '--out', file], { from: 'user' }),
    ).rejects.toMatchObject({ code: 'BAD_SETTING' });
    expect(printed).toContain('#define TOKEN');
  });

  it('keeps out of the way of a station, and makes none', async () => {
    const dataDir = stationFolder();
    const release = takeDataFolder(dataDir, 'dashboard');
    await expect(run(NODE, '--label', 'a', '--data', dataDir)).rejects.toMatchObject({
      code: 'STATION_RUNS',
    });
    release();
    const nowhere = join(folder, 'nowhere');
    await expect(run(NODE, '--label', 'a', '--data', nowhere)).rejects.toMatchObject({ code: 'NO_STATION' });
    expect(existsSync(nowhere)).toBe(false);
    await expect(run('12', '--label', 'a', '--data', dataDir)).rejects.toMatchObject({ code: 'BAD_SETTING' });
  });
});
