import { describe, expect, it } from 'vitest';
import { evenSampleRateHz, parseRecordedData, RecordedDataError } from '../../../collector/vehicle/index.ts';

const column = (text: string, name: string) =>
  parseRecordedData(text).columns.find((one) => one.name === name)!;

describe('recorded data from CSV', () => {
  it('reads names, units and values', () => {
    const data = parseRecordedData(
      'time [s],engine speed [rpm],road speed [km/h],note count\n10.0,1500,40,1\n10.5,1600.5,41,2\n',
    );
    expect([...data.timeS]).toEqual([0, 0.5]);
    expect(data.startMs).toBeNull();
    expect(data.columns.map(({ name, quantity, unit }) => [name, quantity, unit])).toEqual([
      ['engine speed', 'engineSpeedRpm', 'rpm'],
      ['road speed', 'roadSpeedKmH', 'km/h'],
      ['note count', 'other', ''],
    ]);
    expect([...data.columns[0]!.values]).toEqual([1500, 1600.5]);
  });

  it('turns units into its own', () => {
    expect(column('time [ms],engine_speed (Hz)\n0,25\n', 'engine speed').values[0]).toBe(1500);
    expect(column('time [ms],vehicle speed [m/s]\n0,10\n', 'vehicle speed').values[0]).toBeCloseTo(36, 12);
    expect(column('time [ms],road speed [mph]\n0,50\n', 'road speed').values[0]).toBeCloseTo(80.4672, 10);
    expect(column('time [ms],coolant [°F]\n0,212\n', 'coolant').values[0]).toBeCloseTo(100, 10);
    expect(
      column('time [s],rear axle acceleration [g]\n0,-1\n', 'rear axle acceleration').values[0],
    ).toBeCloseTo(-9.80665, 10);
  });

  it('takes semicolons with decimal commas, tabs, quotes, comments, a byte order mark and Windows line ends', () => {
    const data = parseRecordedData(
      '\uFEFF# bus 2, morning\r\ntime [s];"engine speed [rpm]"\r\n0,0;1500,25\r\n0,1;1501\r\n\r\n',
    );
    expect([...data.columns[0]!.values]).toEqual([1500.25, 1501]);
    expect([...data.timeS]).toEqual([0, 0.1]);
    expect(column('time [s]\tload [%]\n0\t12,5\n', 'load').values[0]).toBe(12.5);
  });

  it('reads dates, without a zone as UTC', () => {
    const data = parseRecordedData('time,load [%]\n2024-05-01 10:00:00.500,1\n2024-05-01T12:00:01+02:00,2\n');
    expect(data.startMs).toBe(Date.UTC(2024, 4, 1, 10, 0, 0, 500));
    expect([...data.timeS]).toEqual([0, 0.5]);
  });

  it('keeps empty cells as missing', () => {
    expect([...column('time [s],load [%]\n0,\n1,20\n', 'load').values]).toEqual([Number.NaN, 20]);
  });

  it.each([
    ['', 1, /empty/],
    ['rpm,load\n1,2\n', 1, /no column is called time; the columns are: rpm, load/],
    ['time [s],load [%]\n', 1, /no rows of values/],
    ['time,load [%]\n0,1\n', 1, /time \[s\]/],
    ['time [s],engine speed [deg]\n0,1\n', 1, /column 2, engine speed: unit "deg".*\[rpm\]/],
    ['time [s],load [%]\n0,1\n1,2,3\n', 3, /3 cells where the first line names 2/],
    ['time [s],load [%]\n0,1\n\n1,12abc\n', 4, /column 2, load: "12abc" is no number/],
    ['# a\ntime [s],load [%]\n0,1\n0,2\n', 4, /time 0 does not come after 0 of line 3/],
    ['time [s],load [%]\n0,1\nsoon,2\n', 3, /"soon" in the time column/],
    ['time [s],load [%]\n0,"1\n', 2, /not well-formed/],
  ])('says which line is wrong: %j', (text, line, message) => {
    let caught: unknown;
    try {
      parseRecordedData(text);
    } catch (error) {
      caught = error;
    }
    expect(caught).toBeInstanceOf(RecordedDataError);
    expect((caught as RecordedDataError).message).toMatch(message);
    expect((caught as RecordedDataError).line).toBe(line);
  });
});

describe('rows as a waveform', () => {
  it('gives the rate of even rows', () => {
    expect(evenSampleRateHz(Float64Array.from({ length: 1001 }, (_, k) => k / 3200))).toBeCloseTo(3200, 6);
  });
  it('names the row out of step', () => {
    const timeS = Float64Array.from({ length: 100 }, (_, k) => (k < 50 ? k : k + 1) / 100);
    expect(() => evenSampleRateHz(timeS)).toThrow(/row \d+ lies -?0\.\d+ steps/);
    expect(() => evenSampleRateHz(Float64Array.of(0))).toThrow(/at least 2 rows/);
  });
});
