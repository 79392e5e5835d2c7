import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { cp } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { openRecordStore } from '../../../dashboard/server/index.ts';
import { findInstalledBrowser } from '../../../dashboard/server/report/find-browser.ts';
import { reportCommand } from '../../../dashboard/station/report-command.ts';
import { BEARING, bearingJournal, SHAFT_HZ } from '../../support/bearing-journal.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-report-command-'));
const data = join(folder, 'data');
const NODE = '00000000000000a1';
afterAll(() => rmSync(folder, { recursive: true, force: true }));
afterEach(() => {
  vi.restoreAllMocks();
  vi.unstubAllEnvs();
});

/** A fan whose bearing has a defect of the outer race, with a run of 20 s; the data folder as a station leaves it. */
beforeAll(async () => {
  const endS = Math.floor(Date.now() / 1000) - 60;
  const journal = await bearingJournal(endS, 'outer', NODE);
  mkdirSync(data);
  await cp(journal.dir, join(data, 'journal'), { recursive: true });
  await journal.remove();
  const records = openRecordStore(join(data, 'records.sqlite'));
  const fan = records.assets.add({ name: 'Extraction fan 7', kind: 'machine', machineClass: 'I' });
  const place = records.assets.addLocation(fan.id, { name: 'Drive end', component: 'Motor' });
  records.nodes.add(NODE, 'fan board');
  records.mounts.put(place.id, { nodeId: NODE, sensor: 0 }, 1000 * (endS - 3600));
  records.driveTrains.put(fan.id, {
    nominalSpeedRpm: 60 * SHAFT_HZ,
    shafts: ['motor'],
    couplings: [],
    universalJoints: [],
    blades: [],
    tyre: null,
    vehicleSpeeds: {},
    bearings: [{ locationId: place.id, shaft: 'motor', bearing: BEARING, outerRing: 'standing' }],
  });
  records.runs.addPast({ assetId: fan.id, kind: 'bench' }, 'Kim', 1000 * (endS - 22), 1000 * (endS - 2));
  records.close();
});

async function run(...words: string[]): Promise<string> {
  const said: string[] = [];
  vi.spyOn(console, 'log').mockImplementation((line) => void said.push(String(line)));
  await new Command()
    .exitOverride()
    .addCommand(reportCommand().exitOverride())
    .parseAsync(['report', '--data', data, ...words], { from: 'user' });
  return said.join('\n');
}

describe('report', () => {
  it('writes the report of a run: the part that stands out, its chance, its picture, and no names', async () => {
    const file = join(folder, 'run.html');
    expect(await run('1', file)).toMatch(/^\d+\.\d MB in .*run\.html$/);
    const page = readFileSync(file, 'utf8');
    expect(statSync(file).mode & 0o077).toBe(0);
    expect(page).toContain(
      `<h1>Outer race of bearing ${BEARING} stands out at the drive end of the motor.</h1>`,
    );
    expect(page).toMatch(/chance of this from noise 1 in \d+/);
    const [, svg] = page.match(/data:image\/svg\+xml;base64,([A-Za-z0-9+/=]+)/)!;
    const picture = Buffer.from(svg!, 'base64').toString('utf8');
    // 3.5848 per turn (published) at 25 turns a second, with up to 2 % of slip.
    expect(/outer (8[89]|9[01])\.\d Hz/.test(picture)).toBe(true);
    expect((page + picture).includes('Extraction fan')).toBe(false);
    // The look was made for the report alone.
    const records = openRecordStore(join(data, 'records.sqlite'), { readOnly: true });
    expect(records.findings.list(1)).toEqual([]);
    records.close();
  });

  it('takes an asset by name or number, and names it on wish', async () => {
    const [one, two] = [join(folder, 'asset.html'), join(folder, 'asset-2.html')];
    await run('Extraction fan 7', one, '--with-names-and-times');
    expect(readFileSync(one, 'utf8')).toContain('Extraction fan 7');
    await run('1', two, '--asset');
    expect(readFileSync(two, 'utf8')).toContain('<title>Vibration report, run 1</title>');
  });

  it.skipIf(findInstalledBrowser() === null)('writes a PDF', async () => {
    const file = join(folder, 'run.pdf');
    await run('1', file);
    expect(readFileSync(file).subarray(0, 5).toString('latin1')).toBe('%PDF-');
  });

  it('says what is wrong and what to do, and leaves no file behind', async () => {
    const html = join(folder, 'none.html');
    await expect(run('99', html)).rejects.toMatchObject({
      code: 'STATION_REFUSED',
      message: 'This run does not exist.',
    });
    await expect(run('Bus 9', html)).rejects.toMatchObject({ message: "there is no asset 'Bus 9'" });
    await expect(run('1', join(folder, 'none.txt'))).rejects.toMatchObject({ code: 'BAD_SETTING' });
    await expect(run('1', join(folder, 'nowhere', 'none.html'))).rejects.toMatchObject({
      code: 'BAD_SETTING',
    });
    await expect(run('1', html, '--data', join(folder, 'empty'))).rejects.toMatchObject({
      code: 'DATA_FOLDER',
    });
    vi.stubEnv('CLAMPLINE_BROWSER', '/nowhere/chromium');
    await expect(run('1', join(folder, 'none.pdf'))).rejects.toMatchObject({
      message: expect.stringMatching(/^No Chromium or Chrome is installed/),
      remedy: expect.stringMatching(/print it from your own browser/),
    });
    for (const name of ['none.html', 'none.pdf']) expect(existsSync(join(folder, name))).toBe(false);
    const there = join(folder, 'there.html');
    await run('1', there);
    await expect(run('1', there)).rejects.toMatchObject({ code: 'BAD_SETTING' });
    await run('1', there, '--force');
  });
});
