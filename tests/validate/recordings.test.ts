import { describe, expect, it } from 'vitest';
import { faultyMachines, healthyMachines } from './calibration.ts';
import { goldenPresent, openDataPresent } from './recordings.ts';
import { goldenRecordings, openRecordings } from './validate.ts';

const skipNote = 'skipped: open data not present';

describe('open recordings (Case Western Reserve University)', () => {
  it.skipIf(!openDataPresent())(
    `names every race fault of 0.007 and 0.021 in, and nothing wrongly${openDataPresent() ? '' : ` - ${skipNote}`}`,
    async () => {
      const rows = await openRecordings();
      const clear = rows.filter(
        (row) =>
          row.atFault &&
          (row.fault === 'inner' || row.fault === 'outer') &&
          [0.1778, 0.5334].includes(row.sizeMm!),
      );
      expect(clear.length).toBeGreaterThanOrEqual(15);
      for (const row of clear)
        expect([row.recording, row.result.verdict]).toEqual([row.recording, row.fault]);
      for (const row of rows) {
        const allowed = ['none', 'not-clear', ...(row.atFault ? [row.fault] : [])];
        expect(allowed, `${row.recording} ${row.channel}`).toContain(row.result.verdict);
        if (row.fault === 'none') expect(row.result.findings).toEqual([]);
      }
    },
    240_000,
  );

  it.skipIf(!goldenPresent())(
    `gives the verdict of every golden recording${goldenPresent() ? '' : ` - ${skipNote}`}`,
    async () => {
      const rows = await goldenRecordings();
      expect(rows.length).toBeGreaterThan(0);
      for (const row of rows) expect([row.file, row.result.verdict]).toEqual([row.file, row.expected]);
    },
    120_000,
  );
});

describe('synthetic machines (a sample; `node tests/validate/run.mjs` runs thousands)', () => {
  it('has no finding on healthy ones', () => {
    const { records, wrong, withFinding } = healthyMachines(40, 1);
    expect(records).toBe(40);
    expect(wrong).toBe(0);
    expect(withFinding).toBeLessThanOrEqual(1);
  }, 120_000);

  it('names most race faults as strong as all else in the record, and none wrongly', () => {
    for (const part of ['outer', 'inner'] as const) {
      const counts = faultyMachines(part, 0, 10, 500);
      expect(counts.wrong).toBe(0);
      expect(counts.right).toBeGreaterThanOrEqual(6);
    }
  }, 120_000);
});
