import { describe, expect, it } from 'vitest';
import { mixedSpeedCounts } from '../../validate/trend.ts';
import { FEMTO, femtoBearing1, IMS, imsTest2, peersAt, present } from '../../validate/trend-open-data.ts';

describe('twelve weeks of mixed speeds', () => {
  const raised = mixedSpeedCounts(60);

  it('comparing unlike runs raises false alarms, like with like does not', () => {
    expect(raised.unlikeHealthy).toBeGreaterThan(15);
    expect(raised.alikeHealthy).toBeLessThanOrEqual(1);
  });

  it('like with like sees the wear: 1 dB a week over six weeks', () => {
    expect(raised.alikeWorn).toBeGreaterThan(42);
  });
});

describe('run to failure, open data', () => {
  // IMS test 2, outer race of bearing 1 failed at the end (owner's report); the fault is commonly read to begin on
  // 16 February (from memory). Rows are every 10 minutes; the last two with the machine stopped.
  it.skipIf(!present(IMS))(
    'names the failing bearing of four, after the onset and well before the end',
    () => {
      for (const rowsPerRun of [1, 6, 12]) {
        const { rows, watched, endMs } = imsTest2(rowsPerRun);
        const [first, ...neighbours] = rows;
        expect(first!.raisedBeforeEndH).toBeGreaterThan(24);
        expect(endMs - first!.raisedBeforeEndH! * 3.6e6).toBeGreaterThan(Date.UTC(2004, 1, 16));
        for (const row of neighbours)
          expect(row.raisedBeforeEndH ?? 0).toBeLessThan(first!.raisedBeforeEndH! / 2);
        expect(peersAt(watched, endMs - first!.raisedBeforeEndH! * 3.6e6).standsApart).toBe('bearing1');
        expect(peersAt(watched, endMs).standsApart).toBe('bearing1');
        // Nothing is raised by the machine standing, and nothing is taken for cured by it.
        for (const { watched: one } of Object.values(watched)) {
          expect(one.events.filter(({ timeMs }) => timeMs > endMs)).toEqual([]);
          expect(one.alerts[0]!.state.raised).toBe(true);
        }
        if (rowsPerRun === 1) expect(rows.every((row) => row.notRunning === 2)).toBe(true);
      }
    },
  );

  it.skipIf(!present(FEMTO))('FEMTO bearing 1_1: raised hours before the end, not while bedding in', () => {
    const { rows } = femtoBearing1();
    const horizontal = rows.find(({ location }) => location === 'horizontal')!;
    expect(horizontal.raisedBeforeEndH).toBeGreaterThan(1);
    expect(horizontal.raisedBeforeEndH).toBeLessThan(5);
    expect(rows.every((row) => row.alerts === 1)).toBe(true);
  });
});
