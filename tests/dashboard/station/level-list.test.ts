import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { openRecordStore } from '../../../dashboard/server/index.ts';
import { openLevelList } from '../../../dashboard/station/level-list.ts';

const folder = mkdtempSync(join(tmpdir(), 'clampline-level-list-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const summary = { used: 40, leftOutShare: 0, median: 2.5, mad: 0.1, medianSd: 0.02, refused: null };
const summaries = {
  velocityRmsMmPerS: summary,
  accelerationRmsMPerS2: { ...summary, median: 9, refused: 'too-many-left-out' as const },
  accelerationPeakMPerS2: summary,
  crestFactor: summary,
  kurtosis: { ...summary, median: 3 },
};

describe('levels as other sites may see them', () => {
  it('come out of the records by number, with the kind of run and what people left out', () => {
    const file = join(folder, 'records.sqlite');
    const list = openLevelList(file);
    // Before the dashboard server made the file.
    expect([list.newest(), list.after(0, 10), list.leftOutRuns()]).toEqual([0, [], []]);

    const records = openRecordStore(file);
    const bus = records.assets.add({ name: 'Bus 1', kind: 'vehicle', machineClass: 'II' });
    const hub = records.assets.addLocation(bus.id, { name: 'Hub', component: 'Axle' }).id;
    const run = records.runs.addPast({ assetId: bus.id, kind: 'lift' }, 'Kim', 1000, 9000);
    const level = { locationId: hub, readings: 44, summaries };
    records.periodLevels.put(hub, run.id, 1000, [
      { ...level, runId: run.id, fromMs: 1000, toMs: 9000, bin: 'lift, 40-60 km/h' },
    ]);
    records.periodLevels.put(hub, null, 0, [
      { ...level, runId: null, fromMs: 0, toMs: 86_400_000, bin: 'any' },
    ]);

    const [first, second] = list.after(0, 10);
    expect(first).toEqual({
      id: 1,
      asset: String(bus.id),
      location: String(hub),
      condition: 'lift, 40-60 km/h',
      kind: 'lift',
      fromMs: 1000,
      toMs: 9000,
      readings: 44,
      isLeftOut: false,
      values: [
        { median: 2.5, mad: 0.1, medianSd: 0.02 },
        { median: null, mad: null, medianSd: null },
        { median: 2.5, mad: 0.1, medianSd: 0.02 },
        { median: 2.5, mad: 0.1, medianSd: 0.02 },
        { median: 3, mad: 0.1, medianSd: 0.02 },
      ],
    });
    expect(second).toMatchObject({ id: 2, kind: 'day', condition: 'any' });
    expect(list.after(1, 10)).toHaveLength(1);

    // What was worked out again has a new number, and people's word counts at once.
    records.periodLevels.put(hub, run.id, 1000, [
      { ...level, readings: 50, runId: run.id, fromMs: 1000, toMs: 9000, bin: 'lift, 40-60 km/h' },
    ]);
    expect(list.after(2, 10)).toMatchObject([{ id: 3, readings: 50 }]);
    records.periodLevels.leaveOut(run.id, 'flat tyre', 'Kim');
    expect(list.leftOutRuns()).toEqual([run.id]);
    expect(list.ofRun(run.id)).toMatchObject([{ id: 3, isLeftOut: true }]);
    list.close();
    records.close();
  });
});
