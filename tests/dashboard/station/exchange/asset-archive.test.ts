import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { inquiry, openReadingReader } from '../../../../collector/index.ts';
import { createSources, openRecordStore, type RecordStore } from '../../../../dashboard/server/index.ts';
import { CARRIED_TABLES } from '../../../../dashboard/server/records/carried/tables.ts';
import { importAsset } from '../../../../dashboard/station/exchange/import-asset.ts';
import { AXLE_BOARD } from '../../../support/noisy-run.ts';
import { cli } from '../../../support/station.ts';
import { BEGIN_MS, makeFullStation } from './full-station.ts';
import { type Entries, readEntries, writeEntries } from './zip-entries.ts';

let folder: string;
let archive: string;
const at = (name: string) => join(folder, name);

function clampline(...args: string[]) {
  const result = spawnSync(process.execPath, [cli, ...args], { encoding: 'utf8', timeout: 100_000 });
  return { ...result, said: result.stdout + result.stderr };
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'clampline-archive-'));
  archive = at('bus2.zip');
  await makeFullStation(at('depot'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Every row that belongs to the asset, table by table; numbers of records in the order of their appearance. */
function carriedOf(store: RecordStore, assetId: number): Record<string, unknown[]> {
  const locationIds = store.assets.locations(assetId).map(({ id }) => id);
  const seen = new Map<string, Map<number, number>>();
  const place = (table: string, id: number) => {
    const known = seen.get(table) ?? new Map<number, number>();
    seen.set(table, known);
    if (!known.has(id)) known.set(id, known.size);
    return known.get(id);
  };
  return Object.fromEntries(
    store.carried.tables.map((table) => [
      table,
      [...store.carried.rows(table, assetId, locationIds)].map((row) =>
        JSON.parse(JSON.stringify(row), (key, value) => {
          if (key === 'runs')
            return [value.before, value.after].map((ids) => ids?.map((id: number) => place('runs', id)));
          if (typeof value !== 'number') return value;
          if (key === 'id') return place(table, value);
          if (key === 'run_id' || key === 'runId') return place('runs', value);
          if (key === 'event_id') return place('asset_events', value);
          return key === 'manoeuvreId' ? place('manoeuvres', value) : value;
        }),
      ),
    ]),
  );
}

/** The station's asset Bus 2 and all that can be asked of it. */
function look(data: string) {
  const store = openRecordStore(join(at(data), 'records.sqlite'), { readOnly: true });
  const asset = store.assets.list().find(({ name }) => name === 'Bus 2')!;
  const dirs = { journalDir: join(at(data), 'journal'), recordingsDir: join(at(data), 'recordings') };
  const sources = createSources(store, dirs, Date.now);
  const [run] = store.runs.list(asset.id);
  return { store, asset, run: run!, sources, locations: store.assets.locations(asset.id) };
}

describe('an asset as one archive', () => {
  it('goes to an empty station with everything that belongs to it', async () => {
    const out = clampline('export', 'asset', 'Bus 2', archive, '--data', at('depot'));
    expect(out.said).toMatch(/Bus 2: .*3 recordings.*180 seconds/);
    const taken = clampline('import', archive, '--data', at('garage'));
    expect(taken.said).toMatch(/Bus 2: made; 3 locations and 3 mounts added/);
    expect(taken.said).toMatch(/noise marks: 2 added, 0 there already/);
    expect(taken.said).toMatch(/vehicle values: 50 added/);
    expect(taken.said).toMatch(/recordings: 3 added/);
    expect(taken.said).toMatch(/180 seconds read, 180 of them new/);
    expect(taken.status).toBe(0);

    const [here, there] = [look('depot'), look('garage')];
    const [before, after] = [carriedOf(here.store, here.asset.id), carriedOf(there.store, there.asset.id)];
    for (const [table, rows] of Object.entries(before)) {
      expect(rows.length, table).toBeGreaterThan(0);
      expect(after[table], table).toEqual(rows);
    }
    // Nothing of the other asset came along.
    expect(there.store.assets.list()).toHaveLength(1);
    expect(there.store.runs.list()).toHaveLength(1);
    expect(there.run).toMatchObject({ source: 'import', operator: 'Kim', odometerKm: 123_456.5 });
    const { markCount, complaint, notes, endMs } = there.run;
    expect({ markCount, complaint, notes, endMs }).toEqual({
      markCount: here.run.markCount,
      complaint: here.run.complaint,
      notes: here.run.notes,
      endMs: here.run.endMs,
    });
    const trainOf = ({ store, asset, locations }: typeof here) => {
      const train = store.driveTrains.of(asset.id);
      const place = (id: number) => locations.findIndex((location) => location.id === id);
      return {
        ...train,
        bearings: train.bearings.map((one) => ({ ...one, locationId: place(one.locationId) })),
      };
    };
    expect(trainOf(here).bearings).toHaveLength(2);
    expect(trainOf(there)).toEqual(trainOf(here));
    const [found] = there.store.findings.list(there.locations[0]!.id);
    expect(found).toMatchObject({ verdict: 'outer', locationId: there.locations[0]!.id, picture: true });
    expect(there.store.findings.picture(found!.id)).toBe(
      here.store.findings.picture(here.store.findings.list(here.locations[0]!.id)[0]!.id),
    );
    expect(there.store.sensors.list()).toEqual(here.store.sensors.list());
    here.store.close();
    there.store.close();
  });

  it('brings the samples of its runs to the bit, so that every question has the same answer', async () => {
    const [here, there] = [look('depot'), look('garage')];
    const span = { fromMs: BEGIN_MS, toMs: BEGIN_MS + 60_000 };
    for (const [i, { id }] of here.locations.entries()) {
      const [own, carried] = await Promise.all([
        inquiry.recordedStretches({ source: here.sources.ofRun(here.run, id), span }),
        inquiry.recordedStretches({ source: there.sources.ofRun(there.run, there.locations[i]!.id), span }),
      ]);
      expect(own.length).toBeGreaterThan(0);
      expect(carried.map(({ wav, ...rest }) => rest)).toEqual(own.map(({ wav, ...rest }) => rest));
      const values = (stretches: typeof own) => stretches.map(({ frames }) => frames);
      expect(values(carried)).toEqual(values(own));
    }
    const compare = ({ sources, run, store }: typeof here) =>
      inquiry.answer('compare', {
        source: sources.ofRun(run),
        span,
        marks: store.runEvents.marks(run.id),
        conditions: [],
      });
    const [own, carried] = [await compare(here), await compare(there)];
    expect(carried.comparison.verdict.sentence).toBe(own.comparison.verdict.sentence);
    expect(carried.comparison.bands.map(({ leadDb }) => leadDb)).toEqual(
      own.comparison.bands.map(({ leadDb }) => leadDb),
    );
    here.store.close();
    there.store.close();
  });

  it('brings the kept spectra of its locations', async () => {
    const spectra = await Promise.all(
      ['depot', 'garage'].map(async (data) => {
        const reader = openReadingReader(join(at(data), 'readings.sqlite'));
        const found = await reader.spectrum({ nodeId: AXLE_BOARD, sensor: 0 }, BEGIN_MS, BEGIN_MS + 60_000);
        await reader.close();
        return found;
      }),
    );
    expect(spectra[0]).toMatchObject({ blocks: 60, axes: ['x', 'y', 'z'], firstBand: -92 });
    expect(spectra[1]).toEqual(spectra[0]);
  });

  it('changes nothing when it comes a second time, or back to where it is from', () => {
    for (const data of ['garage', 'depot']) {
      const files = () =>
        existsSync(join(at(data), 'recordings')) ? readdirSync(join(at(data), 'recordings')) : [];
      const [before, filesBefore] = [look(data), files()];
      const rows = carriedOf(before.store, before.asset.id);
      before.store.close();
      const again = clampline('import', archive, '--data', at(data));
      expect(again.said).toMatch(/there already; 0 locations and 0 mounts added/);
      expect(again.said).not.toMatch(/[1-9]\d* added/);
      expect(again.said).toMatch(/recordings: 0 added, 3 there already/);
      expect(again.status).toBe(0);
      const after = look(data);
      expect(carriedOf(after.store, after.asset.id)).toEqual(rows);
      after.store.close();
      expect(files().filter((name) => name.endsWith('.wav'))).toEqual(filesBefore);
    }
  });

  it('goes on from there to a third station just as whole', async () => {
    expect(clampline('export', 'asset', 'Bus 2', at('on.zip'), '--data', at('garage')).status).toBe(0);
    expect(clampline('import', at('on.zip'), '--data', at('third')).said).toMatch(/recordings: 3 added/);
    const [here, there] = [look('depot'), look('third')];
    expect(carriedOf(there.store, there.asset.id)).toEqual(carriedOf(here.store, here.asset.id));
    here.store.close();
    there.store.close();
    const [first, second] = [await readEntries(archive), await readEntries(at('on.zip'))];
    const contents = (entries: Entries) =>
      [...entries]
        .filter(([name]) => /\.(wav|csv)$|spectra/.test(name))
        .map(([, bytes]) => createHash('sha256').update(bytes).digest('hex'))
        .sort();
    expect(contents(second)).toEqual(contents(first));
  });

  it('leaves the samples out when asked to', () => {
    const small = at('small.zip');
    clampline('export', 'asset', 'Bus 2', small, '--data', at('depot'), '--no-recordings');
    const taken = clampline('import', small, '--data', at('fourth'));
    expect(taken.said).toMatch(/runs: 1 added/);
    expect(taken.said).not.toMatch(/recordings/);
    const { store, sources, run } = look('fourth');
    expect(() => sources.ofRun(run)).toThrow(expect.objectContaining({ code: 'RAW_SAMPLES_MISSING' }));
    store.close();
  });
});

describe('a hostile or broken archive', () => {
  let good: Entries;
  beforeAll(async () => {
    if (!existsSync(archive)) clampline('export', 'asset', 'Bus 2', archive, '--data', at('depot'));
    good = await readEntries(archive);
  });

  /** Nothing was taken in, and nothing lies about. */
  async function refused(file: string, expected: RegExp): Promise<void> {
    const data = mkdtempSync(join(folder, 'victim-'));
    await expect(importAsset(file, data, () => {})).rejects.toThrow(
      expect.objectContaining({
        code: 'ARCHIVE_FILE',
        message: expect.stringMatching(expected),
        remedy: expect.any(String),
      }),
    );
    const store = openRecordStore(join(data, 'records.sqlite'));
    expect(store.assets.list()).toEqual([]);
    expect(store.runs.list()).toEqual([]);
    store.close();
    expect(readdirSync(join(data, 'recordings'))).toEqual([]);
    expect(existsSync(join(data, 'readings.sqlite'))).toBe(false);
  }

  async function changed(change: (entries: Entries) => void): Promise<string> {
    const entries = new Map(good);
    change(entries);
    const file = at(`hostile-${Math.random().toString(36).slice(2)}.zip`);
    await writeEntries(file, entries);
    return file;
  }
  const set = (name: string, text: string) => (entries: Entries) => void entries.set(name, Buffer.from(text));

  it.each<[string, (entries: Entries) => void, RegExp]>([
    [
      'a table that no station has',
      set('records/people.jsonl', '{"name":"x"}\n'),
      /records\/people\.jsonl, line 1 is what no station wrote: table people: is not known/,
    ],
    ['broken JSON', set('records/noise_marks.jsonl', '{"run_id":'), /noise_marks\.jsonl, line 1 is no JSON/],
    ['a list for a row', set('records/noise_marks.jsonl', '[1]\n'), /table noise_marks: a row is no object/],
    [
      'a row of a run that never came',
      set('records/run_evaluations.jsonl', '{"run_id":77,"times":1}\n'),
      /table run_evaluations: it names run_id 77, which is not in the archive/,
    ],
    [
      'a value of the wrong kind',
      set('records/asset_events.jsonl', '{"id":1,"at_ms":"now","kind":"note","note":"","by_whom":""}\n'),
      /table asset_events: .*at_ms/,
    ],
    [
      'a column too many',
      set(
        'records/asset_events.jsonl',
        '{"id":1,"at_ms":1,"kind":"note","note":"","by_whom":"","asset_id":1}\n',
      ),
      /table asset_events/,
    ],
    [
      'a picture that acts',
      (entries) => {
        const text = entries.get('records/findings.jsonl')!.toString().replaceAll('<path', '<script');
        set('records/findings.jsonl', text)(entries);
      },
      /table findings: .*picture/,
    ],
    [
      'a WAV file that is none',
      set('recordings/1.wav', 'RIFF and so on'),
      /recordings\/1\.wav is no sound recording/,
    ],
    [
      'a recording of nothing',
      (entries) => {
        const { run, ...rest } = JSON.parse(entries.get('recordings/1.json')!.toString());
        set('recordings/1.json', JSON.stringify({ ...rest, run: run + 50 }))(entries);
      },
      /belongs to run \d+, which is not in the archive/,
    ],
    [
      'a description of nothing',
      set('recordings/1.json', '{}'),
      /recordings\/1\.json describes no recording/,
    ],
    [
      'a manifest that is none',
      set('asset.json', '{"format":"zoo"}'),
      /no archive of an asset, or one of a later/,
    ],
    [
      'no manifest',
      (entries) => void entries.delete('asset.json'),
      /no archive of an asset: it does not begin with asset\.json/,
    ],
    [
      'a line without an end',
      set(
        'records/sensors.jsonl',
        `{"part":"${Array.from({ length: 1_200_000 }, (_, i) => i.toString(36)).join('')}`,
      ),
      /has a line of more than 4 MB/,
    ],
  ])('is refused with a clear reason and without a trace: %s', async (_what, change, expected) => {
    await refused(await changed(change), expected);
  });

  it.each([
    ['{"node":"x"}'],
    [
      '{"node":"00000000000000a1","sensor":0,"timeMs":60000,"blocks":1,"axes":["x","x"],"firstBand":0,"density":[[1],[2]]}',
    ],
    [
      '{"node":"00000000000000a1","sensor":0,"timeMs":60000,"blocks":1,"axes":["x"],"firstBand":0,"density":[[70000]]}',
    ],
    ['7'],
  ])('takes no spectrum that is none: %s', async (line) => {
    const file = await changed((entries) => set('readings/spectra.jsonl', `${line}\n`)(entries));
    await expect(importAsset(file, mkdtempSync(join(folder, 'victim-')), () => {})).rejects.toMatchObject({
      code: 'ARCHIVE_FILE',
      message: expect.stringMatching(/^readings\/spectra\.jsonl, line 1 is no spectrum/),
    });
  });

  it('bursts nobody: what would unpack to far more than measurements do is not unpacked', async () => {
    const bomb = await changed((entries) => void entries.set('readings/bomb.csv', Buffer.alloc(80e6, 'a')));
    await refused(bomb, /would unpack to \d+ MB, more than measurements can be shrunk by/);
  });

  it('without an end of a line in its readings leaves what came before, and says so', async () => {
    const file = await changed((entries) => {
      const noise = Array.from({ length: 100_000 }, (_, i) => (i * 7919).toString(36)).join('');
      const header = entries.get('readings/seconds.csv')!.toString().split('\n', 1)[0];
      set('readings/minutes.csv', `${header}\n${noise}`)(entries);
    });
    const data = mkdtempSync(join(folder, 'victim-'));
    await expect(importAsset(file, data, () => {})).rejects.toThrow(
      expect.objectContaining({ code: 'IMPORT_UNREADABLE', message: expect.stringMatching(/line 2/) }),
    );
    const { store, run } = look(data.slice(folder.length + 1));
    // Records are whole, with their files: taking the archive in again completes the readings.
    const names = readdirSync(join(data, 'recordings'));
    for (const { recordingId } of store.recordings.ofRun(run.id))
      expect(names).toContain(`${recordingId}.wav`);
    store.close();
  });

  it('writes outside of nothing: a name that leads elsewhere is refused', async () => {
    const file = await changed((entries) => void entries.set('ab/evil.wav', Buffer.from('x')));
    const bytes = readFileSync(file);
    for (let i = bytes.indexOf('ab/evil.wav'); i !== -1; i = bytes.indexOf('ab/evil.wav', i + 1))
      bytes.write('../evil.wav', i);
    writeFileSync(file, bytes);
    await refused(file, /cannot be unpacked: invalid relative path: \.\.\/evil\.wav/);
    expect(readdirSync(folder)).not.toContain('evil.wav');
  });

  it('that lies about an entry is found out while it is read', async () => {
    const file = await changed(() => {});
    const bytes = readFileSync(file);
    // Central directory: signature, then the unpacked size at 24 and the name at 46.
    const name = bytes.lastIndexOf('records/runs.jsonl');
    expect(bytes.readUInt32LE(name - 46)).toBe(0x02014b50);
    bytes.writeUInt32LE(10, name - 46 + 24);
    writeFileSync(file, bytes);
    await refused(file, /cannot be unpacked|is no JSON/);
  });

  it('that was cut short is no archive', async () => {
    const file = at('cut.zip');
    writeFileSync(file, readFileSync(archive).subarray(0, 5000));
    await refused(file, /is no archive/);
  });
});

describe('the tables of the records file', () => {
  /** Which stay at the station, or go otherwise, and why. */
  const NOT_CARRIED: Record<string, string> = {
    assets: 'in the manifest',
    locations: 'in the manifest',
    mounts: 'in the manifest',
    nodes: 'in the manifest, without what lets them in',
    drive_trains: 'in the manifest',
    recording_files: 'files with a description',
    recording_channels: 'files with a description',
    owner_links: 'signed with the secret of this station, at its address',
  };

  it('that belong to an asset are carried with every column, or stay behind for a reason', () => {
    const db = new Database(join(at('depot'), 'records.sqlite'), { readonly: true });
    const names = db.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").pluck().all() as string[];
    const refers = new Map(
      names.map((name) => [
        name,
        (db.pragma(`foreign_key_list(${name})`) as { table: string }[]).map(({ table }) => table),
      ]),
    );
    const belongs = new Set(['assets', 'nodes']);
    for (let grown = true; grown; ) {
      const more = names.filter(
        (name) => !belongs.has(name) && refers.get(name)!.some((to) => belongs.has(to)),
      );
      for (const name of more) belongs.add(name);
      grown = more.length > 0;
    }
    const carried = new Map(CARRIED_TABLES.map((table) => [table.name, table]));
    expect([...belongs].filter((name) => !carried.has(name) && !(name in NOT_CARRIED))).toEqual([]);
    for (const [name, { row, set = {}, behind = [] }] of carried) {
      const columns = (db.pragma(`table_info(${name})`) as { name: string }[]).map((column) => column.name);
      const told = new Set([...Object.keys(row.properties), ...Object.keys(set), ...behind, 'asset_id']);
      expect(
        columns.filter((column) => !told.has(column)),
        name,
      ).toEqual([]);
    }
    db.close();
  });
});
