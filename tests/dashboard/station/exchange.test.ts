import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openSqliteStore } from '../../../collector/store/sqlite-store.ts';
import { openRecordStore } from '../../../dashboard/server/index.ts';
import { takeDataFolder } from '../../../dashboard/station/data-folder.ts';
import { cli } from '../../support/station.ts';
import { reading } from '../server/stored-readings.ts';

const [NODE_A, NODE_B] = ['00000000000000a1', '00000000000000b2'];
const BEGIN_MS = 1_760_000_400_000;
const SECONDS = 4000;
const ALL = { fromMs: 0, toMs: Number.MAX_SAFE_INTEGER };

let folder: string;
const at = (name: string) => join(folder, name);

function clampline(...args: string[]) {
  const result = spawnSync(process.execPath, [cli, ...args], {
    encoding: 'utf8',
    timeout: 60_000,
    maxBuffer: 1e9,
  });
  return { ...result, said: result.stdout + result.stderr };
}

/** Two buses; the first has two locations, between which a sensor was moved, and a bearing at the second. */
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'clampline-exchange-'));
  mkdirSync(at('depot'));
  let nowMs = BEGIN_MS;
  const records = openRecordStore(join(at('depot'), 'records.sqlite'), { now: () => nowMs });
  for (const [node, label] of [
    [NODE_A!, 'Rear board'],
    [NODE_B!, 'Front board'],
  ] as const) {
    records.nodes.add(node, label);
  }
  const bus = records.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
  const other = records.assets.add({ name: 'Bus 2', kind: 'vehicle', machineClass: 'II' });
  const [hub, axle] = ['Hub', 'Axle'].map(
    (name) => records.assets.addLocation(bus.id, { name, component: 'Rear axle' }).id,
  );
  const elsewhere = records.assets.addLocation(other.id, { name: 'Hub', component: 'Rear axle' });
  records.mounts.put(hub!, { nodeId: NODE_A!, sensor: 0 });
  records.mounts.put(elsewhere.id, { nodeId: NODE_B!, sensor: 0 });
  nowMs += 2_000_000;
  records.mounts.put(axle!, { nodeId: NODE_A!, sensor: 0 });
  records.close();

  const store = await openSqliteStore(join(at('depot'), 'readings.sqlite'));
  const readings = [NODE_A!, NODE_B!].flatMap((node) =>
    Array.from({ length: SECONDS }, (_, i) => reading(node, 0, BEGIN_MS + i * 1000, 1 + (i % 50) / 10)),
  );
  await store.commit(readings, 9);
  await store.close();
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

const lines = (text: string) => text.split(/\r?\n/).filter((line) => line !== '');

describe('export readings', () => {
  it('writes all of them to standard output as CSV, and only them', () => {
    const { stdout, stderr, status } = clampline('export', 'readings', '--data', at('depot'));
    expect(status).toBe(0);
    const [header, ...rows] = lines(stdout);
    expect(header).toMatch(/^time,site,asset,location,node/);
    expect(rows).toHaveLength(2 * SECONDS * 3);
    expect(rows[0]).toMatch(/^2025-10-09T09:00:00\.000Z,workshop,Bus 1,Hub,00000000000000a1,0,x,1,2,6,3,3,/);
    expect(rows.at(-1)).toContain(',Bus 2,Hub,');
    expect(stderr).toMatch(/8,000 seconds/);
  });

  it('picks an asset, a location and a span; the second in which a sensor was moved belongs to no place', () => {
    const common = ['export', 'readings', '--data', at('depot')];
    const rows = (...args: string[]) => lines(clampline(...common, ...args).stdout).slice(1);
    expect(rows('--asset', 'Bus 1')).toHaveLength(SECONDS * 3);
    expect(rows('--asset', 'Bus 1', '--location', 'Axle')).toHaveLength((SECONDS - 2000) * 3);
    const span = ['--from', '2025-10-09T09:00:10Z', '--to', '2025-10-09T09:00:12Z'];
    expect(rows('--asset', '2', ...span)).toHaveLength(2 * 3);
    expect(rows('--level', 'minute', '--asset', 'Bus 1', '--location', 'Hub')[0]).toMatch(/,minute$/);
  });

  it('as line protocol carries the tags that the database knows', () => {
    const args = ['--format', 'line', '--asset', 'Bus 2', '--to', '2025-10-09T09:00:01Z'];
    const { stdout } = clampline('export', 'readings', '--data', at('depot'), '--site', 'depot', ...args);
    expect(lines(stdout)).toHaveLength(4);
    expect(lines(stdout)[0]).toMatch(
      /^reading_1s,asset=2,axis=x,location=3,node=00000000000000b2,sensor=0,site=depot left_out=0i,velocity_rms_mm_s=1,.* 1760000400$/,
    );
  });

  it.each([
    [['readings', '--asset', 'Bus 9'], /there is no asset 'Bus 9'[\s\S]*1 \(Bus 1\), 2 \(Bus 2\)/, 2],
    [['readings', '--location', 'Hub'], /more than one location[\s\S]*1 \(Hub\), 3 \(Hub\)/, 2],
    [['readings', '--from', 'yesterday'], /--from 'yesterday' is no time/, 2],
    [['readings', '--from', '2026', '--to', '2025'], /--from does not lie before --to/, 2],
    [['readings', '--format', 'xls'], /Allowed choices are csv, line/, 1],
  ] as const)('%j is refused', (args, expected, status) => {
    const result = clampline('export', ...args, '--data', at('depot'));
    expect(result.stderr).toMatch(expected);
    expect(result.status).toBe(status);
  });

  it('overwrites nothing unless told to, and leaves nothing half-written', () => {
    const file = at('there.csv');
    writeFileSync(file, 'precious');
    const args = ['export', 'readings', '--data', at('depot'), '--out', file];
    expect(clampline(...args).said).toMatch(/is there already[\s\S]*--force/);
    expect(readFileSync(file, 'utf8')).toBe('precious');
    expect(clampline(...args, '--force').status).toBe(0);
    expect(lines(readFileSync(file, 'utf8'))).toHaveLength(2 * SECONDS * 3 + 1);
    expect(clampline('export', 'readings', '--data', at('nowhere')).said).toMatch(/holds no station/);
  });
});

describe('an asset as one archive', () => {
  const archive = () => at('bus1.zip');

  it('goes to another station whole, and a second time changes nothing', () => {
    const out = clampline('export', 'asset', 'Bus 1', archive(), '--data', at('depot'));
    expect(out.said).toMatch(/Bus 1: 4,000 seconds, 65 minutes, 0 hours/);
    const first = clampline('import', archive(), '--data', at('garage'));
    expect(first.said).toMatch(/Bus 1: made; 2 locations and 2 mounts added/);
    expect(first.said).toMatch(/4,000 seconds read, 4,000 of them new/);
    expect(first.status).toBe(0);
    const again = clampline('import', archive(), '--data', at('garage'));
    expect(again.said).toMatch(/Bus 1: there already; 0 locations and 0 mounts added/);
    expect(again.said).toMatch(/4,000 seconds read, 0 of them new/);

    const csv = (data: string, ...args: string[]) =>
      clampline('export', 'readings', '--data', at(data), '--asset', 'Bus 1', ...args).stdout;
    for (const level of ['second', 'minute']) {
      expect(csv('garage', '--level', level)).toBe(csv('depot', '--level', level));
    }
  });

  it('lets no node in that it names, and ends the mounts that were in force', () => {
    const records = openRecordStore(join(at('garage'), 'records.sqlite'));
    expect(records.nodes.list()).toEqual([]);
    expect(records.nodes.find(NODE_A!)).toMatchObject({ label: 'Rear board' });
    expect(records.mounts.current()).toEqual([]);
    const [asset] = records.assets.list();
    const past = records.assets
      .locations(asset!.id)
      .flatMap(({ id }) => records.mounts.history(id, ALL.fromMs, ALL.toMs));
    expect(past).toHaveLength(2);
    records.close();
  });

  it('comes back into the station it is from without a change', () => {
    const result = clampline('import', archive(), '--data', at('depot'));
    expect(result.said).toMatch(/there already; 0 locations and 0 mounts added/);
    const records = openRecordStore(join(at('depot'), 'records.sqlite'));
    expect(records.mounts.current()).toHaveLength(2);
    records.close();
  });

  it('waits for the station to be stopped', () => {
    const release = takeDataFolder(at('garage'), 'station');
    const result = clampline('import', archive(), '--data', at('garage'));
    release();
    expect(result.said).toMatch(/another station is running/);
    expect(result.status).toBe(1);
  });

  it('says when it is damaged, or nothing of ours', () => {
    const damaged = at('damaged.zip');
    writeFileSync(damaged, readFileSync(archive()));
    truncateSync(damaged, 3000);
    const cut = clampline('import', damaged, '--data', at('third'));
    expect(cut.stderr).toMatch(/is no archive[\s\S]*export has written/);
    writeFileSync(at('letter.txt'), 'Dear workshop');
    expect(clampline('import', at('letter.txt'), '--data', at('third')).said).toMatch(/nothing that export/);
    expect(clampline('import', at('missing.csv'), '--data', at('third')).status).toBe(2);
  });
});
