import { describe, expect, it } from 'vitest';
import { followTable, type LevelTable } from '../../../collector/trend/index.ts';
import { gaussian, uniform } from '../../../collector/trend/random.ts';
import { ratioOfDb } from '../../../collector/trend/robust.ts';

const DAY_MS = 86_400_000;
const ASKED = {
  rowsPerRun: 1,
  criterion: { kind: 'own-spread' as const },
  zoneBoundaries: [],
  falseAlarmsPerYear: 0.1,
  limit: null,
};

/** One row a day with 0.5 dB of scatter about a course in dB. */
function daily(days: number, courses: Record<string, (day: number) => number>, seed = 1): LevelTable {
  const next = gaussian(uniform(seed));
  const at = Array.from({ length: days }, (_, day) => day);
  return {
    timeMs: at.map((day) => day * DAY_MS),
    columns: Object.entries(courses).map(([name, course]) => ({
      name,
      values: at.map((day) => ratioOfDb(course(day) + 0.5 * next())),
    })),
    bins: null,
  };
}

describe('a table followed', () => {
  it('raises the alert of the place that wears, after its onset, and names it among its peers', () => {
    const wears = (day: number) => Math.max(0, 0.4 * (day - 40));
    const table = daily(80, { a_rms: wears, b_rms: () => 0, c_rms: () => 0, a_kurtosis: () => 0 });
    const { columns, peers } = followTable(table, ASKED);
    const raised = columns.map(({ watched }) => watched.events.map(({ timeMs }) => timeMs / DAY_MS));
    expect(raised.slice(1)).toEqual([[], [], []]);
    expect(raised[0]).toHaveLength(1);
    expect(raised[0]![0]).toBeGreaterThan(40);
    expect(raised[0]![0]).toBeLessThan(60);
    // A single column of its kind has no peers.
    expect(peers).toHaveLength(1);
    expect(peers[0]).toMatchObject({ value: 'rms', standsApart: 'a_rms' });
    // 16 dB in the middle of the last three days, less what the peers changed by.
    expect(peers[0]!.ranks[0]!.changeDb).toBeCloseTo(15.2, 0);
  });

  it('takes a machine that stood, and rows without a level, for nothing', () => {
    const table = daily(60, { a_rms: () => 0 });
    const values = table.columns[0]!.values.map((value, day) =>
      day === 30 ? null : day > 55 ? 0.01 : value,
    );
    values[31] = 0;
    const { columns } = followTable({ ...table, columns: [{ name: 'a_rms', values }] }, ASKED);
    expect(columns[0]).toMatchObject({ leftOut: 2, limit: expect.closeTo(2, 0) });
    expect(columns[0]!.watched.events).toEqual([]);
    expect(columns[0]!.watched.notRunning).toHaveLength(4);
  });

  it('compares like with like: a bus that changes to the main road has not worn', () => {
    const road = (day: number) => day >= 30 && day % 3 > 0;
    const course = (day: number) => (road(day) ? 9 : 0);
    const table = daily(70, { hub: course });
    const unlike = followTable(table, ASKED).columns[0]!;
    expect(unlike.watched.events.length).toBeGreaterThan(0);
    const bins = table.timeMs.map((_, day) => (road(day) ? 'main road' : 'town'));
    const alike = followTable({ ...table, bins }, ASKED).columns[0]!;
    expect(alike).toMatchObject({ basis: 'ratio', limit: expect.closeTo(2, 0) });
    expect(alike.watched.events).toEqual([]);
  });

  it('says how many runs are missing, and nothing of peers, in a short table', () => {
    const { columns, peers } = followTable(daily(5, { a: () => 0, b: () => 0, c: () => 0 }), ASKED);
    expect(columns[0]!.watched.baseline).toMatchObject({ known: false, runsMissing: 3 });
    expect(columns[0]).toMatchObject({ limit: null, forecast: null });
    expect(peers).toEqual([]);
  });
});
