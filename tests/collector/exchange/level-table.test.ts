import { describe, expect, it } from 'vitest';
import { parseLevelTable } from '../../../collector/exchange/level-table.ts';

const T0 = Date.UTC(2026, 4, 1, 10);

describe('a table of levels', () => {
  it.each([
    ['ISO, UTC where no zone is given', 'time,hub\n2026-05-01T10:00:00,1.5\n2026-05-01 10:01:00,\n', T0],
    ['a zone', 'time,hub\n2026-05-01T12:00:00+02:00,1.5\n2026-05-01T12:01:00+02:00,nan\n', T0],
    ['Unix seconds', `t,hub\n${T0 / 1000},1.5\n${T0 / 1000 + 60},\n`, T0],
    ['Unix milliseconds', `t,hub\n${T0},1.5\n${T0 + 60_000},\n`, T0],
    ['seconds from the start', 't_s,hub\n0,1.5\n60.0,\n', 0],
    ['semicolons and decimal commas', 't_s;hub\n0;1,5\n60,0;\n', 0],
  ])('reads %s', (_name, text, startMs) => {
    expect(parseLevelTable(text)).toEqual({
      timeMs: [startMs, startMs + 60_000],
      columns: [{ name: 'hub', values: [1.5, null] }],
      bins: null,
    });
  });

  it('takes the columns named, the condition apart, rows in order of time', () => {
    const text = 'speed,t,a,b\nfast,20,2,x\nslow,10,1,x\n,30,3,x\n';
    expect(parseLevelTable(text, { time: 't', columns: ['a'], condition: 'speed' })).toEqual({
      timeMs: [10_000, 20_000, 30_000],
      columns: [{ name: 'a', values: [1, 2, 3] }],
      bins: ['slow', 'fast', null],
    });
  });

  it.each([
    ['', 'line 1: a line of headings and at least one row are needed'],
    ['t,a\n', 'line 1: a line of headings and at least one row are needed'],
    ['t\n1\n', 'line 1: no column of levels beside the time'],
    ['t,a\n1,2\n3\n', 'line 3: 1 cells where the headings name 2'],
    ['t,a\nsoon,2\n', 'line 2: "soon" is no time'],
    ['t,a\n1e300,2\n', 'line 2: "1e300" is no time'],
    ['t,a\n1,2g\n', 'line 2: column a: "2g" is no number'],
    ['t,a\n1,"2\n', 'is not well-formed'],
  ])('says what is wrong with %j', (text, what) => {
    expect(() => parseLevelTable(text)).toThrow(what);
  });

  it('says which columns there are when one is not', () => {
    expect(() => parseLevelTable('t,a\n1,2\n', { columns: ['b'] })).toThrow("no column 'b'; there are: t, a");
  });
});
